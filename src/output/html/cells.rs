//! The workings behind the cells of a page: every text and every fact once, cells refer to them.

use std::collections::HashMap;

use serde::Serialize;

use crate::output::working::Working;

/// What the page's script reads.
#[derive(Default, Serialize)]
pub(super) struct Cells {
    texts: Vec<String>,
    facts: Vec<[usize; 7]>,
    workings: Vec<Cell>,
    #[serde(skip)]
    text_at: HashMap<String, usize>,
    #[serde(skip)]
    fact_at: HashMap<[usize; 7], usize>,
}

#[derive(Serialize)]
struct Cell {
    title: usize,
    enquiry: usize,
    tape: usize,
    exposure: usize,
    command: usize,
    answer: Vec<[usize; 2]>,
    facts: Vec<usize>,
    steps: Vec<[usize; 2]>,
}

/// Which finding a working is of, in the words of the page.
pub(super) struct Of<'a> {
    pub(super) enquiry: &'a str,
    pub(super) tape: &'a str,
    pub(super) exposure: &'a str,
    pub(super) command: &'a str,
}

impl Cells {
    /// Adds a working; its number.
    pub(super) fn add(&mut self, working: &Working, of: &Of<'_>) -> usize {
        let facts = working.facts.iter().map(|fact| self.fact(fact)).collect();
        let cell = Cell {
            title: self.text(&working.title),
            enquiry: self.text(of.enquiry),
            tape: self.text(of.tape),
            exposure: self.text(of.exposure),
            command: self.text(of.command),
            answer: self.pairs(&working.answer),
            facts,
            steps: self.pairs(&working.steps),
        };
        self.workings.push(cell);
        self.workings.len() - 1
    }

    fn text(&mut self, text: &str) -> usize {
        if let Some(at) = self.text_at.get(text) {
            return *at;
        }
        let at = self.texts.len();
        self.texts.push(text.to_owned());
        self.text_at.insert(text.to_owned(), at);
        at
    }

    fn fact(&mut self, fact: &[String; 7]) -> usize {
        let key = fact.each_ref().map(|part| self.text(part));
        if let Some(at) = self.fact_at.get(&key) {
            return *at;
        }
        let at = self.facts.len();
        self.facts.push(key);
        self.fact_at.insert(key, at);
        at
    }

    fn pairs(&mut self, lines: &[(&'static str, String)]) -> Vec<[usize; 2]> {
        lines.iter().map(|(name, text)| [self.text(name), self.text(text)]).collect()
    }
}

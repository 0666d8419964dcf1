//! A machine that loses power: what was written and not made durable may be there or not, in any order.
//!
//! The steps of a few acts are recorded. For every prefix of the record, and for many choices of what a
//! power cut keeps of the steps that were not yet durable, the tree is built and judged: what had been
//! acknowledged must be there and whole. Then each flush is left out in turn, and the same judgement
//! must fail: every flush is needed.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs;
use std::sync::{Arc, Mutex};

use lapwise::record::Meaning;
use lapwise::register::{Fate, Step};

use super::*;

#[derive(Clone, Debug)]
enum Did {
    Folder(PathBuf),
    Write(PathBuf, Vec<u8>),
    Flush(PathBuf),
    FlushFolder(PathBuf),
    Rename(PathBuf, PathBuf),
    Link(PathBuf, PathBuf),
    Remove(PathBuf),
    /// Whoever asked was told that this stands.
    Acknowledged(String),
}

/// A file or a folder on the disk: what is in memory, and what is durable.
#[derive(Clone, Debug, Default)]
struct Node {
    folder: bool,
    bytes: Vec<u8>,
    flushed: bool,
    /// Names that are durable.
    durable: BTreeMap<String, usize>,
    /// Changes of names that are not yet: a name and what it points to, or that it is gone.
    pending: Vec<(String, Option<usize>)>,
}

impl Node {
    fn now(&self, keep: impl Fn(usize) -> bool) -> BTreeMap<String, usize> {
        let mut names = self.durable.clone();
        for (at, (name, node)) in self.pending.iter().enumerate() {
            match node {
                Some(node) if keep(at) => drop(names.insert(name.clone(), *node)),
                None if keep(at) => drop(names.remove(name)),
                _ => {}
            }
        }
        names
    }
}

#[derive(Clone)]
struct Model {
    root: PathBuf,
    nodes: Vec<Node>,
}

impl Model {
    fn new(root: &Path) -> Model {
        let parent = Node { folder: true, durable: BTreeMap::from([("register".to_owned(), 1)]), ..Node::default() };
        Model { root: root.to_owned(), nodes: vec![parent, Node { folder: true, ..Node::default() }] }
    }

    fn find(&self, path: &Path) -> Option<usize> {
        let Ok(inside) = path.strip_prefix(&self.root) else { return Some(0) };
        inside.iter().try_fold(1, |node, part| self.nodes[node].now(|_| true).get(part.to_str().unwrap()).copied())
    }

    fn change(&mut self, path: &Path, to: Option<usize>) {
        let folder = self.find(path.parent().unwrap()).unwrap();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        self.nodes[folder].pending.push((name, to));
    }

    fn does(&mut self, did: &Did) {
        match did {
            Did::Folder(path) => {
                self.nodes.push(Node { folder: true, ..Node::default() });
                self.change(path, Some(self.nodes.len() - 1));
            }
            Did::Write(path, bytes) => {
                self.nodes.push(Node { bytes: bytes.clone(), ..Node::default() });
                self.change(path, Some(self.nodes.len() - 1));
            }
            Did::Flush(path) => {
                let node = self.find(path).unwrap();
                self.nodes[node].flushed = true;
            }
            Did::FlushFolder(path) => {
                let node = self.find(path).unwrap();
                let names = self.nodes[node].now(|_| true);
                let node = &mut self.nodes[node];
                (node.durable, node.pending) = (names, Vec::new());
            }
            Did::Rename(from, to) => {
                let node = self.find(from);
                self.change(from, None);
                self.change(to, node);
            }
            Did::Link(from, to) => {
                let node = self.find(from);
                self.change(to, node);
            }
            Did::Remove(path) => {
                if self.find(path).is_some() {
                    self.change(path, None);
                }
            }
            Did::Acknowledged(_) => {}
        }
    }

    /// Builds the tree that a power cut leaves: which pending changes it kept, and whether files that
    /// were not flushed kept their bytes.
    fn build(&self, to: &Path, kept: &dyn Fn(usize, usize) -> bool, bytes: bool) {
        let _ = fs::remove_dir_all(to);
        self.lay(1, to, kept, bytes);
    }

    fn lay(&self, node: usize, to: &Path, kept: &dyn Fn(usize, usize) -> bool, bytes: bool) {
        let of = &self.nodes[node];
        if !of.folder {
            fs::write(to, if of.flushed || bytes { &of.bytes[..] } else { &[] }).unwrap();
            return;
        }
        fs::create_dir_all(to).unwrap();
        for (name, inner) in of.now(|at| kept(node, at)) {
            self.lay(inner, &to.join(name), kept, bytes);
        }
    }

    /// Every change of a name that is pending, but of names in the staging folder, which nobody trusts.
    fn pending(&self) -> Vec<(usize, usize)> {
        let staging = self.find(&self.root.join(".staging"));
        let stages = staging.map(|node| self.nodes[node].now(|_| true)).unwrap_or_default();
        let idle = |n: usize| Some(n) == staging || stages.values().any(|stage| *stage == n);
        let nodes = self.nodes.iter().enumerate().filter(|(n, _)| !idle(*n));
        nodes.flat_map(|(n, node)| (0..node.pending.len()).map(move |at| (n, at))).collect()
    }
}

/// Records a register's first acts, with what was acknowledged.
fn recorded() -> (PathBuf, Vec<Did>, tempfile::TempDir) {
    let did = Arc::new(Mutex::new(Vec::new()));
    let seen = Arc::clone(&did);
    let disk = Disk::watched(move |step| {
        let own = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_owned());
        seen.lock().unwrap().push(match step {
            Step::Folder(path) => Did::Folder(path.to_owned()),
            Step::Write(path, bytes) => Did::Write(path.to_owned(), bytes.to_vec()),
            Step::Flush(path) => Did::Flush(path.to_owned()),
            Step::FlushFolder(path) => Did::FlushFolder(own(path)),
            Step::Rename(from, to) => Did::Rename(from.to_owned(), to.to_owned()),
            Step::Link(from, to) => Did::Link(from.to_owned(), to.to_owned()),
            Step::Remove(path) => Did::Remove(path.to_owned()),
        });
        Fate::Done
    });
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().canonicalize().unwrap().join("register");
    fs::create_dir(&root).unwrap();
    let acknowledged = |what: &str| did.lock().unwrap().push(Did::Acknowledged(what.to_owned()));
    let register = Register::create(&root, false, &time(0), disk).unwrap();
    acknowledged("register");
    register.add_key("m.sand", "M", lapwise::record::Role::Author, &public(1), &time(1)).unwrap();
    register.add_key("k.holm", "K", lapwise::record::Role::Approver, &public(3), &time(1)).unwrap();
    acknowledged("keys");
    sign_by(&register, &draft("Q-1"), AUTHOR, Meaning::Authored, "", None, 2).unwrap();
    acknowledged("Q-1/r0001");
    let (at, approver) = (time(3), key(3));
    let signing = Signing { signer: "k.holm", meaning: Meaning::Approved, reason: "", time: &at, key: &approver };
    register.countersign(&"Q-1/r0001".parse().unwrap(), &signing, |_| Ok(b"%PDF page\n".to_vec())).unwrap();
    acknowledged("Q-1/r0001.1");
    let did = did.lock().unwrap().clone();
    (root, did, folder)
}

/// What is wrong with a tree, given what was acknowledged before the power went.
fn judge(tree: &Path, acknowledged: &[&str]) -> Option<String> {
    let register = match Register::open(tree, Disk::default()) {
        Ok(register) => register,
        Err(_) if acknowledged.is_empty() => return None,
        Err(fault) => return Some(fault.to_string()),
    };
    let report = match register.verify(&Scope::All) {
        Ok(report) => report,
        Err(fault) => return Some(fault.to_string()),
    };
    if let Some(flaw) = report.flaws.first() {
        return Some(flaw.to_string());
    }
    let log = register.log().unwrap();
    for act in acknowledged {
        let there = match *act {
            "register" => true,
            "keys" => log.keys_before(u64::MAX).len() == 2,
            record => log.records().any(|(.., change)| change.record == record),
        };
        if !there {
            return Some(format!("{act} was acknowledged and is missing"));
        }
    }
    None
}

/// The first thing wrong over all prefixes from a step on, and all choices of what a power cut keeps.
///
/// Between the steps that give or move a name outside of the staging folder nothing changes for whoever
/// reads, so the tree is built after those.
fn worst(root: &Path, did: &[Did], tree: &Path, from: usize) -> (Option<String>, usize) {
    let staging = root.join(".staging");
    let mut model = Model::new(root);
    let mut acknowledged = Vec::new();
    let trees = RefCell::new(0);
    for (step, act) in did.iter().enumerate() {
        if let Did::Acknowledged(what) = act {
            acknowledged.push(what.as_str());
        }
        model.does(act);
        let shows = match act {
            Did::Folder(path) => !path.starts_with(&staging),
            Did::Rename(..) | Did::Link(..) | Did::Acknowledged(_) => true,
            _ => false,
        };
        if step < from || !shows {
            continue;
        }
        let pending = model.pending();
        let try_one = |kept: &dyn Fn(usize, usize) -> bool, bytes: bool| {
            *trees.borrow_mut() += 1;
            model.build(tree, kept, bytes);
            judge(tree, &acknowledged).map(|wrong| format!("step {step}, {act:?}: {wrong}"))
        };
        let mut wrong = None;
        for bytes in [true, false] {
            wrong = wrong.or_else(|| try_one(&|_, _| true, bytes)).or_else(|| try_one(&|_, _| false, bytes));
        }
        // Reordered: one change kept or lost against all the others.
        for one in &pending {
            wrong = wrong
                .or_else(|| try_one(&|node, at| (node, at) != *one, true))
                .or_else(|| try_one(&|node, at| (node, at) == *one, false));
        }
        if wrong.is_some() {
            return (wrong, trees.into_inner());
        }
    }
    (None, trees.into_inner())
}

#[test]
fn a_power_cut_leaves_the_old_state_or_the_new() {
    let (root, did, folder) = recorded();
    let tree = folder.path().join("tree");
    let (wrong, trees) = worst(&root, &did, &tree, 0);
    assert_eq!(wrong, None);
    assert!(trees > 300, "{trees} trees");
}

#[test]
fn each_flush_is_needed() {
    let (root, did, folder) = recorded();
    let tree = folder.path().join("tree");
    let flushes: Vec<usize> =
        (0..did.len()).filter(|n| matches!(did[*n], Did::Flush(_) | Did::FlushFolder(_))).collect();
    assert!(flushes.len() > 30, "{} flushes", flushes.len());
    let mut idle = Vec::new();
    for flush in flushes {
        // The parent of the register is outside of the model; the probe of the links is never relied on.
        match &did[flush] {
            Did::FlushFolder(path) if !path.starts_with(&root) => continue,
            Did::Flush(path) if path.ends_with(".staging/probe") => continue,
            _ => {}
        }
        let mut without = did.clone();
        let left_out = without.remove(flush);
        match worst(&root, &without, &tree, flush).0 {
            None => idle.push(format!("{left_out:?}")),
            Some(wrong) => println!("without {left_out:?}\n  {}", wrong.lines().next().unwrap_or_default()),
        }
    }
    assert!(idle.is_empty(), "left out without harm:\n{}", idle.join("\n"));
}

//! Rows as one page that needs nothing but itself: no network, no other file, and a policy in its
//! head that lets nothing else run. Every text of the data is escaped where it is set.

mod cells;
mod side;
mod view;

use std::io::Write;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, Value, context};
use sha2::{Digest as _, Sha256};

use super::report::{Made, Told};
use crate::expand::Plan;
use crate::fault::{Code, Fault};
use cells::Cells;
use view::Page;

const PAGE: &str = include_str!("../../../templates/page.html");
const STYLE: &str = include_str!("../../../templates/page.css");
const SCRIPT: &str = include_str!("../../../templates/page.js");

/// Writes every finding as a page.
///
/// # Errors
/// The page does not render, or the writer fails.
pub fn matrix(plan: &Plan<'_>, told: &[Told], made: &Made, out: &mut dyn Write) -> Result<(), Fault> {
    let mut cells = Cells::default();
    let page = view::matrix(plan, told, made, &mut cells);
    write(&page, &cells, out)
}

/// Writes the order of candidates as a page.
///
/// # Errors
/// The page does not render, or the writer fails.
pub fn order(plan: &Plan<'_>, told: &[Told], made: &Made, out: &mut dyn Write) -> Result<(), Fault> {
    let mut cells = Cells::default();
    let page = view::order(plan, told, made, &mut cells);
    write(&page, &cells, out)
}

fn write(page: &Page, cells: &Cells, out: &mut dyn Write) -> Result<(), Fault> {
    let defect = |error: &dyn std::fmt::Display| {
        Fault::new(Code::TemplateFaulty, error.to_string(), "a page that renders", "report this as a defect")
    };
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    let syntax = SyntaxConfig::builder().trim_blocks(true).build().map_err(|error| defect(&error))?;
    environment.set_syntax(syntax);
    environment.add_template("page.html", PAGE).map_err(|error| defect(&error))?;
    let workings = serde_json::to_string(cells).map_err(|error| defect(&error))?;
    let rendered = environment
        .get_template("page.html")
        .and_then(|template| {
            template.render(context! {
                page => Value::from(Serde(page)),
                style => STYLE,
                script => SCRIPT,
                style_hash => policy_hash(STYLE),
                script_hash => policy_hash(SCRIPT),
                workings => within_script(&workings),
            })
        })
        .map_err(|error| defect(&error))?;
    out.write_all(rendered.as_bytes()).map_err(|error| {
        Fault::new(Code::WriteFailed, error.to_string(), "a page", "check the disk and the permissions")
    })
}

/// JSON that cannot end the element it stands in, nor open a comment there.
fn within_script(json: &str) -> String {
    json.replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026")
}

/// The hash by which a content security policy knows a text.
fn policy_hash(text: &str) -> String {
    format!("sha256-{}", base64(&Sha256::digest(text.as_bytes())))
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for chunk in bytes.chunks(3) {
        let at = |n: usize| u32::from(chunk.get(n).copied().unwrap_or(0));
        let bits = at(0) << 16 | at(1) << 8 | at(2);
        for nth in 0..4 {
            let letter = LETTERS[(bits >> (18 - 6 * nth) & 63) as usize];
            text.push(if nth <= chunk.len() { char::from(letter) } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::{base64, policy_hash, within_script};

    /// Source: RFC 4648, section 10.
    #[test]
    fn base64_is_that_of_the_standard() {
        for (plain, text) in [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")] {
            assert_eq!(base64(plain.as_bytes()), text);
        }
    }

    /// Source: the digest of no bytes, FIPS 180-4, as `openssl dgst -sha256 -binary | base64` prints it.
    #[test]
    fn a_policy_hash_is_a_digest() {
        assert_eq!(policy_hash(""), "sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=");
    }

    #[test]
    fn data_cannot_end_their_script() {
        assert_eq!(within_script("</script>&"), "\\u003c/script\\u003e\\u0026");
    }
}

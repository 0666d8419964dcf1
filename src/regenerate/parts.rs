//! Which parts of the evidence a row of the data folder belongs to, named as the evidence of a selection names them.

use std::collections::BTreeSet;

/// The parts of a row of a table, by its cells; `by_all` says of a material whether every selection consults it, and
/// nothing of what is no material.
pub(super) fn parts<'r>(
    file: &str,
    cell: impl Fn(&str) -> &'r str,
    by_all: impl Fn(&str) -> Option<bool>,
) -> BTreeSet<String> {
    let common = |part: &str, holds: bool| holds.then(|| format!("common:{part}"));
    let media = |id: &str| Some(format!("media:{id}"));
    let parts = match file {
        "tapes.csv" => [common("tapes", true), None, None],
        "materials.csv" => {
            let id = cell("id");
            [common("materials", by_all(id).unwrap_or(true)), media(id), None]
        }
        "facts.csv" => {
            let subject = cell("subject");
            let by_all = by_all(subject);
            [common("tapes", by_all.is_none()), common("materials", by_all.unwrap_or(true)), media(subject)]
        }
        "pairs.csv" => [media(cell("medium")), None, None],
        _ => [None, None, None],
    };
    parts.into_iter().flatten().collect()
}

/// Whether every selection consults a material of a kind: what tapes are made of, and every gas.
pub(super) fn by_all(kind: &str) -> bool {
    !["liquid", "resin", "solvent"].contains(&kind)
}

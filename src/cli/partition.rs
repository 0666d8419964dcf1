//! Findings as Parquet in folders, one for each enquiry, as engines that read many files at once expect it.

use std::path::Path;
use std::sync::atomic::Ordering;

use rayon::prelude::*;

use super::export::{Export, Format, write_whole};
use super::interrupt::{INTERRUPTED, Interrupt};
use super::progress::Progress;
use super::{End, Here, Outcome, say};
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Code, Fault};
use crate::judge::Verdict;
use crate::keep;
use crate::output::{self, Counts, Row};
use crate::quantity::count;

/// The file in the folder of each enquiry.
const FILE: &str = "part.parquet";

/// The folder that the parts go to.
pub(super) fn folder(export: &Export, format: Format) -> Result<&Path, End> {
    match (&export.output, format) {
        (Some(folder), Format::Parquet) => Ok(folder),
        _ => Err(End::Usage(Fault::new(
            Code::ArgumentMissing,
            "`--partitioned` alone",
            "a folder for the parts, and Parquet",
            "add `--format parquet -o DIR`",
        ))),
    }
}

/// Writes each enquiry's findings into its own folder, and says how many of each verdict there are.
///
/// A file is whole or not there; folders of other enquiries stay as they are.
pub(super) fn write(
    here: &Here,
    catalogue: &Catalogue,
    enquiries: &[Enquiry],
    folder: &Path,
    interrupt: &Interrupt,
) -> Outcome {
    let plan = Plan::new(catalogue, enquiries)?;
    let stop = interrupt.gently();
    let progress = Progress::of(enquiries.len(), "enquiries", here.json);
    let one = |at: usize| -> Result<Option<Counts>, End> {
        if stop.load(Ordering::SeqCst) {
            return Ok(None);
        }
        let rows = plan.with_rows(at, output::rows_of)?;
        let path = folder.join(format!("enquiry={}", enquiries[at].number)).join(FILE);
        let parent = path.parent().unwrap_or(folder);
        std::fs::create_dir_all(parent).map_err(|error| End::Environment(keep::unwritable(&path, &error)))?;
        write_whole(&path, |out| output::parquet_of_enquiry(&rows, out).map_err(End::Environment))?;
        progress.step();
        let verdict = |row: &Row| Verdict::ALL.into_iter().find(|verdict| verdict.text() == row.verdict);
        Ok(Some(Counts::of(rows.iter().filter_map(verdict))))
    };
    let written: Vec<Result<Option<Counts>, End>> = (0..enquiries.len()).into_par_iter().map(one).collect();
    progress.end();
    let mut all = Counts::default();
    let mut files = 0;
    for counts in written {
        if let Some(counts) = counts? {
            all = all.with(&counts);
            files += 1;
        }
    }
    say::remark(&format!("{}: {}", count(files, "enquiry", "enquiries"), all.sentence()))?;
    if interrupt.heard() {
        let left = count(enquiries.len() - files, "enquiry", "enquiries");
        say::remark(&format!("interrupted: {left} not written"))?;
        return Err(End::Reported(INTERRUPTED));
    }
    Ok(())
}

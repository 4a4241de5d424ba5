//! The steps of each job, in the barn's own words. Where the file is left out, or says nothing of a job, the barn crate's own
//! steps are shown.

use std::collections::BTreeMap;

use bellmare_barn::board::Job;
use bellmare_barn::book::{Book, JobStep};
use bellmare_barn::language::Text;

use super::cells::TEXT_CHARS;
use super::faults::Faults;
use super::reader::each;
use super::sheet::Sheet;

pub(super) const JOBS: &[(&str, Job)] =
    &[("brush", Job::Brush), ("tack", Job::Tack), ("lead_out", Job::LeadOut), ("put_away", Job::PutAway)];

pub(super) const YES_NO: &[(&str, bool)] = &[("yes", true), ("no", false)];

pub(super) fn read_steps(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book) {
    let mut taken: BTreeMap<(usize, u32), usize> = BTreeMap::new();
    each(sheet, faults, |cells| {
        if cells.row.ragged {
            return None;
        }
        let job = cells.choice("job", JOBS);
        let order = cells.whole("order", 1..=99);
        if let (Some(job), Some(order)) = (job, order) {
            let of = JOBS.iter().position(|(_, known)| *known == job).unwrap_or(JOBS.len());
            if let Some(line) = taken.get(&(of, order)) {
                cells.refuse("order", format!("each number once for a job; line {line} has it too"));
            } else {
                taken.insert((of, order), cells.row.line);
            }
        }
        let english = cells.filled("text", TEXT_CHARS);
        let spanish = cells.perhaps("text_es", |cells, column| cells.text(column, TEXT_CHARS));
        let caution = cells.perhaps("caution", |cells, column| cells.choice(column, YES_NO));
        let text = Text { english: english?, spanish: spanish?.unwrap_or_default() };
        book.steps.push(JobStep { job: job?, order: order?, text, caution: caution?.unwrap_or(false) });
        Some(())
    });
}

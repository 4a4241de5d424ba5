//! The prep plan against other hands: the model's own checker, in Python, and OR-Tools CP-SAT.
//! `tests/reference/README.md` says where each file comes from.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use bellmare_barn::plan::file::{DayFile, PlanFile};
use bellmare_barn::plan::price::{Parts, price};
use bellmare_barn::plan::{Day, Effort, plan};
use serde::Deserialize;

/// Prices each line of standard input, `[day, plan]`, with the checker.
const CHECK: &str = r#"
import json, sys
import plan_check
for line in sys.stdin:
    day, plan = json.loads(line)
    total, parts, broken = plan_check.price(day, {o["ride"]: None if o["missed"] else o["jobs"] for o in plan["outings"]})
    print(json.dumps({"cost": total, "parts": parts, "broken": broken}))
"#;

/// Writes the days of a kind, seeds 1 to 30, one a line.
const DAYS: &str = r#"
import json, sys
import days
for kind in sys.argv[1:]:
    for seed in range(1, 31):
        print(json.dumps(days.make(kind, seed)))
"#;

const KINDS: [&str; 8] =
    ["small", "small-replan", "typical", "typical-replan", "busy", "busy-replan", "camp", "camp-replan"];

fn reference() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reference")
}

/// Runs a script with the folder's modules, all input at once; its lines.
fn python(folder: &Path, script: &str, arguments: &[&str], input: &str) -> Vec<String> {
    let mut command = Command::new("python3");
    command.arg("-c").arg(script).args(arguments).env("PYTHONPATH", folder).env("PYTHONDONTWRITEBYTECODE", "1");
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("python3 is installed");
    let mut stdin = child.stdin.take().expect("it is piped");
    let output = std::thread::scope(|scope| {
        scope.spawn(move || stdin.write_all(input.as_bytes()).expect("the script reads all"));
        child.wait_with_output().expect("the script ends")
    });
    assert!(output.status.success(), "the script failed: {}", output.status);
    String::from_utf8(output.stdout).expect("UTF-8").lines().map(str::to_owned).collect()
}

fn days(kinds: &[&str]) -> Vec<DayFile> {
    let lines = python(&reference().join("plan"), DAYS, kinds, "");
    assert_eq!(lines.len(), 30 * kinds.len());
    lines.iter().map(|line| serde_json::from_str(line).expect("a day file")).collect()
}

#[derive(Deserialize)]
struct Checked {
    cost: i64,
    parts: BTreeMap<String, i64>,
    broken: Vec<String>,
}

fn by_name(parts: Parts) -> BTreeMap<String, i64> {
    [
        ("missed", parts.missed),
        ("staff", parts.staff),
        ("late", parts.late),
        ("standing", parts.standing),
        ("back_wait", parts.back_wait),
        ("saddled_wait", parts.saddled_wait),
        ("brushed_wait", parts.brushed_wait),
        ("handover", parts.handover),
        ("reshuffle", parts.reshuffle),
        ("busiest", parts.busiest),
    ]
    .map(|(name, cost)| (name.to_owned(), cost))
    .into()
}

/// A plan with jobs moved, given to others and missed: most of the model's rules are broken by one or another.
fn spoilt(file: &PlanFile, day: &Day, salt: usize) -> PlanFile {
    let mut file = file.clone();
    for (i, outing) in file.outings.iter_mut().enumerate() {
        let Some(jobs) = &mut outing.jobs else { continue };
        let job = [&mut jobs.brush, &mut jobs.tack, &mut jobs.put_away];
        for (k, job) in job.into_iter().enumerate() {
            let Some(job) = job else { continue };
            match (i * 7 + k * 3 + salt) % 11 {
                0 => job.start += 9,
                1 => job.start -= 14,
                2 if !day.grooms.is_empty() => job.groom = day.grooms[(i + k) % day.grooms.len()].id.clone(),
                3 => job.groom = "staff".to_owned(),
                _ => {}
            }
        }
        if (i + salt).is_multiple_of(13) {
            (outing.missed, outing.jobs) = (true, None);
        }
    }
    file
}

/// A plan file as the price knows it.
fn tasks(file: &PlanFile, day: &Day) -> bellmare_barn::plan::price::Tasks {
    use bellmare_barn::plan::day::Hand;
    use bellmare_barn::plan::price::Task;
    let hand = |id: &str| day.grooms.iter().position(|groom| groom.id == id).map_or(Hand::STAFF, Hand::of);
    let task = |job: &Option<bellmare_barn::plan::file::JobFile>| {
        let job = job.as_ref().expect("the outing is not missed");
        Task { hand: hand(&job.groom), start: job.start as i32 }
    };
    let outing = |jobs: &bellmare_barn::plan::file::JobsFile| [&jobs.brush, &jobs.tack, &jobs.put_away].map(task);
    file.outings.iter().map(|o| o.jobs.as_ref().map(outing)).collect()
}

#[test]
fn the_model_prices_every_plan_as_its_own_checker_does() {
    let mut input = String::new();
    let mut ours = Vec::new();
    for (k, file) in days(&KINDS).iter().enumerate() {
        let day = Day::checked(file).expect("the generator writes right days");
        let plan = plan(&day, Effort(60), &mut || true);
        for salt in [None, Some(k), Some(k + 5)] {
            let plan = salt.map_or_else(|| plan.file(&day), |salt| spoilt(&plan.file(&day), &day, salt));
            let price = price(&day, &tasks(&plan, &day));
            assert!(salt.is_some() || price.broken.is_empty(), "{:?}", price.broken);
            ours.push(price);
            input.push_str(&serde_json::to_string(&(file, plan)).expect("JSON"));
            input.push('\n');
        }
    }
    let theirs = python(&reference(), CHECK, &[], &input);
    assert_eq!(theirs.len(), ours.len());
    let mut broken = 0;
    for (ours, theirs) in ours.iter().zip(&theirs) {
        let theirs: Checked = serde_json::from_str(theirs).expect("the checker's answer");
        assert_eq!(ours.parts.total(), theirs.cost);
        assert_eq!(by_name(ours.parts), theirs.parts);
        assert_eq!(ours.broken.len(), theirs.broken.len(), "{:#?}\n{:#?}", ours.broken, theirs.broken);
        broken += theirs.broken.len();
    }
    assert!(broken > 1000, "only {broken} broken rules were compared");
}

#[derive(Deserialize)]
struct Solved {
    status: String,
    cost: i64,
}

/// What CP-SAT found, by seed.
fn solved(kind: &str) -> BTreeMap<usize, Solved> {
    let path = reference().join("plan").join(format!("{kind}.json"));
    let text = std::fs::read_to_string(&path).expect("the file is there");
    let by_seed: BTreeMap<String, Solved> = serde_json::from_str(&text).expect("results by seed");
    by_seed.into_iter().map(|(seed, solved)| (seed.parse().expect("a number"), solved)).collect()
}

#[test]
fn small_days_cost_what_cp_sat_proves() {
    for kind in ["small", "small-replan"] {
        let solved = solved(kind);
        assert_eq!(solved.len(), 30);
        let mut proved = 0;
        for (seed, file) in (1..).zip(days(&[kind])) {
            let Solved { status, cost } = &solved[&seed];
            assert_eq!(status, "OPTIMAL", "{kind} {seed}");
            let day = Day::checked(&file).expect("the generator writes right days");
            let plan = plan(&day, SURE, &mut || true);
            assert_eq!(plan.cost(), *cost, "{kind} {seed}");
            assert!(plan.bound <= *cost, "{kind} {seed}: a bound of {} over the optimum {cost}", plan.bound);
            proved += usize::from(plan.proved());
        }
        assert!(proved >= 24, "{kind}: only {proved} of 30 proved");
    }
}

/// Far more than a day of this size is worth: equality is asked for, and a test may take a second.
const SURE: Effort = Effort(30_000);

//! The spread means something: coarse and fine tables agree, and no cell depends on its company.

use std::path::Path;

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::Enquiry;
use lapwise::expand::Plan;
use lapwise::load::Folder;
use lapwise::measure::{Answer, Beside, Mode, Own, Together, Work};
use lapwise::spread::FINE;

use crate::story::SHIPPED;

pub(crate) fn shipped() -> (Catalogue, Vec<Enquiry>) {
    let folder = Folder::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(SHIPPED)).unwrap();
    let catalogue = Catalogue::build(&folder).unwrap();
    let enquiries =
        folder.enquiries().map(|file| Enquiry::read(file, folder.text(file), &catalogue).unwrap()).collect();
    (catalogue, enquiries)
}

/// How far, in ln, fewer points may put the 5th and the 95th percentile from 4 096: less than a limit may be near before
/// a cell is drawn over them all.
const AGREE: [f64; 2] = [0.065, 0.05];

#[test]
fn coarse_and_fine_tables_agree_over_all_demo_cells() {
    let (catalogue, enquiries) = shipped();
    let plan = Plan::new(&catalogue, &enquiries).unwrap();
    let (mut compared, mut worst, mut apart) = (0, [0.0_f64; 2], Vec::new());
    for group in &plan.groups {
        for (position, enquiry, exposure, answer) in group.answers(&plan) {
            let Answer::Number(coarse) = answer else { continue };
            if coarse.x05.total_cmp(&coarse.x95).is_eq() {
                continue;
            }
            let mode = Mode { points: FINE, explain: false };
            let tape = plan.candidates[position];
            let together = Together::default();
            let own: Vec<Own> = group.measure.factor(&catalogue, tape).iter().map(|scale| scale.own).collect();
            let beside = Beside::none(&together, &own);
            let case = (&enquiries[enquiry], exposure);
            let fine = Work::cell(group.measure, &catalogue, tape, case, mode, beside);
            let Answer::Number(fine) = fine.answer else { panic!("{} has no fine answer", group.measure.id) };
            let off = |a: f64, b: f64| if a > 0.0 && a.is_finite() && b > 0.0 { (a / b).ln().abs() } else { 0.0 };
            let differ = [off(coarse.x05, fine.x05), off(coarse.x95, fine.x95)];
            compared += 1;
            worst = [worst[0].max(differ[0]), worst[1].max(differ[1])];
            if differ[0] > AGREE[0] || differ[1] > AGREE[1] {
                apart.push(format!("{} {} {exposure:?}: {differ:.3?}", group.measure.id, catalogue.tapes[tape].id));
            }
        }
    }
    assert!(compared > 300, "only {compared} cells with a spread");
    let so_many = apart.len();
    assert!(apart.is_empty(), "{so_many} of {compared} cells differ by more than {AGREE:?}:\n{}", apart.join("\n"));
    println!("{compared} cells, worst {worst:.3?} in ln");
}

#[test]
fn no_finding_depends_on_the_other_candidates_or_enquiries() {
    let (catalogue, enquiries) = shipped();
    let all = Plan::new(&catalogue, &enquiries).unwrap();
    for (number, enquiry) in enquiries.iter().enumerate() {
        let position = (number * 7 + 3) % all.candidates.len();
        let alone = Plan::of(&catalogue, std::slice::from_ref(enquiry), vec![all.candidates[position]]).unwrap();
        let (a, b) = (all.findings_of(number, position), alone.findings_of(0, 0));
        assert_eq!(format!("{a:?}"), format!("{b:?}"));
    }
}

#[test]
fn folded_classes_and_findings_come_to_the_same_standing() {
    let (catalogue, enquiries) = shipped();
    let plan = Plan::new(&catalogue, &enquiries).unwrap();
    let standings = plan.standings();
    for (enquiry, standings) in standings.iter().enumerate() {
        for (position, standing) in standings.iter().enumerate() {
            let findings = plan.findings_of(enquiry, position);
            assert_eq!(lapwise::rank::standing(&catalogue, &findings), *standing);
        }
    }
}

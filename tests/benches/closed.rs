//! Cells of closed form alone, with their inputs written down so that other engines can do the same arithmetic:
//! the plan finds the distinct inputs, from which all engines start. A large plan must keep no row, or the plan
//! itself works them out: more than 400 000 cells.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::time::Instant;

use lapwise::catalogue::{Catalogue, Property};
use lapwise::enquiry::Enquiry;
use lapwise::expand::{Group, Plan};
use lapwise::load::Folder;
use lapwise::measure::Answer;
use lapwise::quantity::Typed;

use super::generated;

/// The criteria file cut down to one criterion.
pub(super) fn only(folder: &mut Folder, id: &str) {
    let text = folder.text("criteria.toml").to_owned();
    let mut tables = text.split("\n[[criterion]]\n").skip(1);
    let table = tables.find(|table| table.starts_with(&format!("id = \"{id}\""))).unwrap_or_default();
    let end = table.find("\n[[").unwrap_or(table.len());
    folder.files.insert("criteria.toml".to_owned(), format!("[[criterion]]\n{}\n", &table[..end]));
}

/// Writes what each measure reads and what its cells come to, and says how long they took.
pub(super) fn write(to: &Path, enquiries: usize) {
    fs::create_dir_all(to).unwrap_or_else(|error| panic!("{error}"));
    for (id, inputs) in [("thermal-life", Inputs::Life), ("conformability", Inputs::Bend)] {
        let (mut folder, media) = generated::folder(2000);
        only(&mut folder, id);
        let catalogue = Catalogue::build(&folder).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
        let read =
            |n| Enquiry::read("generated.toml", &generated::enquiry(n, 6000, 6, &media, &generated::MUCH), &catalogue);
        let enquiries: Vec<Enquiry> =
            (0..enquiries).map(|n| read(n).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()))).collect();
        // The fastest of three runs counts, as of the other engines.
        let run = |_| {
            let begun = Instant::now();
            let plan = Plan::new(&catalogue, &enquiries).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
            let planned = begun.elapsed().as_secs_f64();
            let begun = Instant::now();
            plan.work_out();
            (begun.elapsed().as_secs_f64(), planned, plan)
        };
        let fastest = (0..3).map(run).min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((seconds, planned, plan)) = fastest else { continue };
        let group = &plan.groups[0];
        println!("{id} cells {} seconds {seconds:.4} planned {planned:.4}", group.distinct());
        let (tapes, cases, cells) = tables(&plan, group, inputs);
        for (name, text) in [("tapes", tapes), ("cases", cases), ("cells", cells)] {
            fs::write(to.join(format!("{id}-{name}.csv")), text).unwrap_or_else(|error| panic!("{error}"));
        }
    }
    fs::write(to.join("draws.csv"), draws()).unwrap_or_else(|error| panic!("{error}"));
}

#[derive(Clone, Copy)]
enum Inputs {
    /// Index, halving interval; life, temperatures and shares.
    Life,
    /// Modulus and its spread, thicknesses, elongation; tension and circumference.
    Bend,
}

/// Tapes, cases and cells as CSV, tapes and cases by their first appearance.
fn tables(plan: &Plan<'_>, group: &Group, inputs: Inputs) -> (String, String, String) {
    let catalogue = plan.catalogue;
    let heads = match inputs {
        Inputs::Life => ["tape,ti,hic", "case,life,t1,s1,t2,s2,t3,s3,t4,s4"],
        Inputs::Bend => ["tape,e,elow,ehigh,h,ta,elongation", "case,tension,around"],
    };
    let [mut tapes, mut cases] = heads.map(|head| format!("{head}\n"));
    let mut cells = "tape,case,x05,x50,x95\n".to_owned();
    let (mut known, mut met) = (std::collections::BTreeSet::new(), std::collections::BTreeSet::new());
    for (position, enquiry, _, answer) in group.answers(plan) {
        let Answer::Number(p) = answer else { continue };
        let _ = writeln!(cells, "{position},{enquiry},{:e},{:e},{:e}", p.x05, p.x50, p.x95);
        let tape = plan.candidates[position];
        let sheet = |property| catalogue.sheet(tape, property).map_or(f64::NAN, |found| found.spread.value);
        let e = &plan.enquiries[enquiry];
        if known.insert(position) {
            let _ = match inputs {
                Inputs::Life => {
                    let numbers = [Property::TemperatureIndex, Property::HalvingInterval].map(sheet);
                    writeln!(tapes, "{position},{:e},{:e}", numbers[0], numbers[1])
                }
                Inputs::Bend => {
                    let modulus = catalogue.find_on(tape, catalogue.tapes[tape].backing, Property::Modulus, None);
                    let Some(s) = modulus.map(|found| found.spread) else { continue };
                    let [h, ta, most] =
                        [Property::BackingThickness, Property::AdhesiveThickness, Property::Elongation].map(sheet);
                    writeln!(tapes, "{position},{:e},{:e},{:e},{h:e},{ta:e},{most:e}", s.value, s.low, s.high)
                }
            };
        }
        if met.insert(enquiry) {
            let si = |x: Option<f64>| x.unwrap_or(f64::NAN);
            let _ = match inputs {
                Inputs::Life => {
                    let steps = e.duty.load_profile.iter().map(|s| format!("{:e},{:e}", s.temperature.si(), s.share));
                    writeln!(cases, "{enquiry},{:e},{}", e.duty.life.si(), steps.collect::<Vec<_>>().join(","))
                }
                Inputs::Bend => {
                    let (tension, around) = (e.winding.tension.map(Typed::si), e.winding.circumference.map(Typed::si));
                    writeln!(cases, "{enquiry},{:e},{:e}", si(tension), si(around))
                }
            };
        }
    }
    (tapes, cases, cells)
}

/// All draws of modulus and of the adhesive's shear, as the cells see them.
fn draws() -> String {
    use lapwise::catalogue::Side;
    let mut out = "point,ze,zs\n".to_owned();
    let modulus = lapwise::spread::deviates(Property::Modulus.dimension(Side::Backing));
    let shear = lapwise::spread::deviates(Property::Shear.dimension(Side::Other));
    for (point, (e, s)) in modulus.iter().zip(shear).enumerate() {
        let _ = writeln!(out, "{point},{e:e},{s:e}");
    }
    out
}

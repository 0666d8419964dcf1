//! Many writers at once, some of whom die: numbers without gaps, nothing acknowledged and lost, one
//! winner for each revision.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;

use lapwise::record::Meaning;

use super::faults::child;
use super::*;

#[test]
#[ignore = "run as a child by others"]
fn signs_on() {
    let root = PathBuf::from(std::env::var("LAPWISE_TEST_REGISTER").unwrap());
    let (who, signs): (u32, u32) = {
        let of = |name: &str| std::env::var(name).unwrap().parse().unwrap();
        (of("LAPWISE_TEST_WHO"), of("LAPWISE_TEST_SIGNS"))
    };
    let register = Register::open(&root, Disk::default()).unwrap();
    for n in 0..signs {
        // Every third is of an enquiry that all of them sign.
        let shared = n % 3 == 0;
        let enquiry = if shared { format!("Q-all-{}", n / 3) } else { format!("Q-{who}-{n}") };
        let signed =
            sign_by(&register, &draft(&enquiry), AUTHOR, Meaning::Authored, &format!("writer {who}"), None, 10);
        match signed {
            Ok(added) => println!("acknowledged {}", added.record.unwrap()),
            Err(fault) => assert!(shared, "{fault}"),
        }
    }
}

/// Eight writers, of whom some are killed; each that was is started again.
pub(crate) fn crowd(signs: u32, kills: u32) {
    let shelf = Shelf::new();
    let root = shelf.root();
    let (signs, mut state) = (signs.to_string(), 12_345_u64);
    let mut random = |below: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % below
    };
    let start = |who: u32| {
        let number = who.to_string();
        let variables = [
            ("LAPWISE_TEST_REGISTER", root.to_str().unwrap()),
            ("LAPWISE_TEST_WHO", number.as_str()),
            ("LAPWISE_TEST_SIGNS", signs.as_str()),
        ];
        child("register::crowd::signs_on", &variables).spawn().unwrap()
    };
    let mut running: BTreeMap<u32, std::process::Child> = (0..8).map(|who| (who, start(who))).collect();
    let mut said = String::new();
    let (mut killed, mut next) = (0, 8);
    while !running.is_empty() {
        std::thread::sleep(std::time::Duration::from_millis(20 + random(60)));
        if killed < kills {
            let at = usize::try_from(random(running.len() as u64)).unwrap();
            let who = *running.keys().nth(at).unwrap();
            let mut dying = running.remove(&who).unwrap();
            dying.kill().unwrap();
            dying.stdout.take().unwrap().read_to_string(&mut said).unwrap();
            dying.wait().unwrap();
            running.insert(next, start(next));
            (killed, next) = (killed + 1, next + 1);
        }
        let ended: Vec<u32> =
            running.iter_mut().filter_map(|(who, c)| c.try_wait().unwrap().is_some().then_some(*who)).collect();
        for who in ended {
            let mut done = running.remove(&who).unwrap();
            done.stdout.take().unwrap().read_to_string(&mut said).unwrap();
            assert!(done.wait().unwrap().success(), "writer {who} failed");
        }
    }
    let report = verify(&root);
    assert!(report.flaws.is_empty(), "{:?}", report.flaws);
    let logged: Vec<String> = records(&root);
    let acknowledged: BTreeSet<&str> = said.lines().filter_map(|line| line.split("acknowledged ").nth(1)).collect();
    let set: BTreeSet<&str> = logged.iter().map(String::as_str).collect();
    assert_eq!(set.len(), logged.len(), "a revision has one winner");
    let missing: Vec<_> = acknowledged.difference(&set).collect();
    assert!(missing.is_empty(), "acknowledged and missing: {missing:?}");
    assert!(acknowledged.len() >= 8, "{} acknowledged", acknowledged.len());
    println!(
        "{} acknowledged, {} logged, {killed} killed, {} unfinished",
        acknowledged.len(),
        logged.len(),
        report.unfinished.len()
    );
}

/// A small crowd in every run; the large one, 8 × 200, is `cargo test -- --ignored a_large_crowd`.
#[test]
fn a_small_crowd() {
    crowd(6, 3);
}

#[test]
#[ignore = "takes minutes; run it after a change of the commit protocol"]
fn a_large_crowd() {
    crowd(200, 40);
}

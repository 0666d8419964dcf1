//! The data of the bar, from the shipped ones: copies of backings, adhesives and media whose numbers are their
//! own, generated tapes, generated enquiries. The same on every machine.

use std::fmt::Write as _;
use std::path::Path;

use lapwise::load::Folder;

const BACKINGS: usize = 40;
const ADHESIVES: usize = 12;
const THICKNESSES: usize = 10;
const MEDIA: usize = 60;

/// A small congruential sequence, the same on every machine.
fn pick(seed: usize, salt: usize, below: usize) -> usize {
    let mut x = (seed as u64)
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add((salt as u64 + 1).wrapping_mul(1_442_695_040_888_963_407));
    x ^= x >> 29;
    x = x.wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x ^= x >> 32;
    (x % below as u64) as usize
}

/// The shipped data with media, backings and adhesives copied to the wanted count, and generated tapes.
pub(super) fn folder(tapes: usize) -> (Folder, Vec<(String, String)>) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("matrices");
    let mut folder = Folder::read(&root).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    folder.files.retain(|name, _| !name.starts_with("enquiries/"));
    let materials = folder.text("materials.csv").to_owned();
    let of = |kind: &str| -> Vec<String> {
        let rows = materials.lines().filter(|line| line.split(',').nth(1) == Some(kind));
        rows.map(|line| line.split(',').next().unwrap_or_default().to_owned()).collect()
    };
    let (backings, adhesives) = (of("backing"), of("adhesive"));
    let shipped_media: Vec<String> = ["liquid", "resin", "solvent", "gas"].into_iter().flat_map(of).collect();
    // Each material and what it is a copy of, the shipped ones of themselves.
    let mut copies: Vec<(String, String)> = Vec::new();
    let mut more = |ids: &[String], wanted: usize| -> Vec<String> {
        let all = (0..wanted.max(ids.len())).map(|n| match ids.get(n) {
            Some(id) => id.clone(),
            None => format!("{}-copy{n}", ids[n % ids.len()]),
        });
        let all: Vec<String> = all.collect();
        copies.extend(all[ids.len()..].iter().enumerate().map(|(n, copy)| (ids[n % ids.len()].clone(), copy.clone())));
        all
    };
    let backings = more(&backings, BACKINGS);
    let adhesives = more(&adhesives, ADHESIVES);
    let media = more(&shipped_media, MEDIA);
    let variants = |id: &str| -> Vec<String> {
        let copied = copies.iter().filter(|(original, _)| original == id).map(|(_, copy)| copy.clone());
        std::iter::once(id.to_owned()).chain(copied).collect()
    };
    for (file, keys) in [("materials.csv", 1), ("facts.csv", 1), ("pairs.csv", 2)] {
        let text = folder.text(file).to_owned();
        let mut out = String::new();
        for (number, line) in text.lines().filter(|line| !line.starts_with("H-")).enumerate() {
            let cells: Vec<&str> = line.splitn(keys + 1, ',').collect();
            let second = if keys == 2 && number > 0 { variants(cells[1]) } else { vec![String::new()] };
            for first in if number > 0 { variants(cells[0]) } else { vec![cells[0].to_owned()] } {
                for second in &second {
                    let second = if second.is_empty() { String::new() } else { format!("{second},") };
                    let rest = if number > 0 { cells[keys] } else { &line[cells[0].len() + 1..] };
                    let rest = nudged(rest, &format!("{first}{second}"));
                    let _ = writeln!(out, "{first},{second}{rest}");
                }
            }
        }
        folder.files.insert(file.to_owned(), out);
    }
    let media = media
        .into_iter()
        .map(|id| {
            let original = copies.iter().find(|(_, copy)| *copy == id).map_or(id.as_str(), |(original, _)| original);
            let kind =
                ["liquid", "resin", "solvent", "gas"].into_iter().find(|kind| of(kind).iter().any(|m| m == original));
            (id.clone(), kind.unwrap_or_default().to_owned())
        })
        .collect();
    let rows = rows(folder.text("tapes.csv"), tapes, &backings, &adhesives);
    folder.files.insert("tapes.csv".to_owned(), rows);
    (folder, media)
}

/// Generated tapes under the head of the shipped ones.
fn rows(shipped: &str, tapes: usize, backings: &[String], adhesives: &[String]) -> String {
    let mut lines = shipped.lines();
    let head = lines.next().unwrap_or_default();
    let mut out = format!("{head}\n");
    let columns: Vec<&str> = head.split(',').collect();
    for n in 0..tapes {
        let backing = 12.0 + 12.0 * pick(n, 1, THICKNESSES) as f64;
        let adhesive = 25.0;
        let pair = pick(n, 2, 60);
        let cells = columns.iter().map(|column| match *column {
            "tape" => format!("G-{n:05}"),
            "name" => format!("generated {n}"),
            "status" => "active".to_owned(),
            "revision" | "coated_sides" => "1".to_owned(),
            "backing" => backings[pick(n, 3, BACKINGS)].clone(),
            "adhesive" => adhesives[pick(n, 4, ADHESIVES)].clone(),
            "backing_thickness" => format!("{backing} um"),
            "adhesive_thickness" => format!("{adhesive} um"),
            "total_thickness" => format!("{} um", backing + adhesive),
            "adhesive_cure" | "silicone" => "none".to_owned(),
            "breakdown" => format!("{:.2} kV", 1.5 + backing * 0.1),
            "tensile" => format!("{} N/cm", 30 + pick(n, 5, 300)),
            "elongation" => format!("{} %", 3 + pick(n, 6, 120)),
            "adhesion" => format!("{:.1} N/cm", 2.0 + pick(n, 7, 40) as f64 / 10.0),
            "adhesion_to_backing" => format!("{:.1} N/cm", 1.5 + pick(n, 7, 40) as f64 / 10.0),
            "adhesion_surface" => "steel".to_owned(),
            "adhesion_angle" => "180 deg".to_owned(),
            "adhesion_dwell" => "20 min".to_owned(),
            "shear" => format!("{} kPa", 20 + pick(n, 8, 80)),
            "shear_temperature" => "23 degC".to_owned(),
            "temperature_index" => format!("{} degC", 105 + 5 * (pair / 4)),
            "halving_interval" => format!("{} K", 8 + pair % 4),
            "index_basis" => "tape".to_owned(),
            "flame" => "yes".to_owned(),
            "electrolytic_corrosion" => "1.0".to_owned(),
            "halogen" | "sulphur" => "20 mg/kg".to_owned(),
            "tracking_index" => "300 V".to_owned(),
            "shelf_life" => "2 a".to_owned(),
            "minimum_width" => "6 mm".to_owned(),
            "roll_length" => "66 m".to_owned(),
            "relative_cost" => format!("{:.1}", 1.0 + pick(n, 9, 90) as f64 / 10.0),
            "source" => "invented-catalogue".to_owned(),
            "basis" => "invented".to_owned(),
            _ => String::new(),
        });
        let _ = writeln!(out, "{}", cells.collect::<Vec<_>>().join(","));
    }
    out
}

/// What a generated enquiry asks of a tape.
pub(super) struct Asks {
    /// From what up the load is hot, in degC, and by how much more each enquiry.
    hot: (f64, f64),
    /// The stage in which liquids are met: for life in service, else for minutes.
    liquids: &'static str,
    /// How much warmer than a room media are, in K, at the most.
    warm: usize,
    /// The least voltage across the wrap, and how much more, in V.
    across: (usize, usize),
    /// The least winding tension, and how much more, in N/cm.
    tension: (usize, usize),
}

/// Much: most enquiries rule out every tape.
pub(super) const MUCH: Asks =
    Asks { hot: (60.0, 0.007), liquids: "service", warm: 71, across: (200, 1000), tension: (8, 40) };
/// Little: every enquiry leaves some.
pub(super) const LITTLE: Asks =
    Asks { hot: (40.0, 0.003), liquids: "cleaning", warm: 11, across: (50, 100), tension: (2, 8) };

/// Enquiry `n`, its exposures drawn from the wanted number of states, its duty and voltage its own.
pub(super) fn enquiry(n: usize, states: usize, exposures: usize, media: &[(String, String)], asks: &Asks) -> String {
    let equipment = ["liquid-immersed-transformer", "dry-type-transformer", "motor", "generator", "reactor"][n % 5];
    let function = ["banding", "outer-wrap", "interlayer", "end-turn-wrap", "phase-separation"][pick(n, 20, 5)];
    let atmosphere = if n.is_multiple_of(5) { "sealed-liquid" } else { "air" };
    let hot = asks.hot.0 + n as f64 * asks.hot.1;
    let mut text = format!(
        "schema = \"lapwise/enquiry/1\"\n[enquiry]\nnumber = \"G-{n}\"\ntitle = \"generated\"\ncustomer = \"generated\"\n\
         prepared_by = \"generated\"\ndate = 2026-11-20\njurisdiction = \"eu\"\n[application]\nequipment = \"{equipment}\"\n\
         function = \"{function}\"\nneeded = \"life\"\natmosphere = \"{atmosphere}\"\n[duty]\nlife = \"20 a\"\n\
         life_basis = \"duty\"\nthermal_class = 105\nload_profile = [\n{{ temperature = \"{hot} degC\", share = 0.4 }},\n\
         {{ temperature = \"{} degC\", share = 0.3 }},\n{{ temperature = \"{} degC\", share = 0.2 }},\n\
         {{ temperature = \"{} degC\", share = 0.1 }},\n]\n",
        hot + 10.0,
        hot + 15.0,
        hot + 20.0,
    );
    let _ = write!(
        text,
        "[voltage]\nkind = \"ac\"\nacross = \"{} V\"\nfrequency = \"50 Hz\"\naltitude = \"{} m\"\nwedge = \"air\"\n\
         [winding]\nwidth = \"{} mm\"\noverlap = \"50 %\"\nlap_tolerance = \"0.5 mm\"\npasses = {}\n\
         circumference = \"60 mm\"\nbend_radius = \"{} mm\"\ntension = \"{} N/cm\"\nsurface = \"steel\"\nlength = \"0.3 m\"\n\
         pieces = 100\nwaste = \"5 %\"\nbuild_limit = \"0.8 mm\"\nadhesion_needed = \"2 N/cm\"\n",
        asks.across.0 + n % asks.across.1,
        500 * pick(n, 21, 3),
        [15, 20, 25, 30][pick(n, 22, 4)],
        1 + pick(n, 23, 3),
        [15, 40][pick(n, 24, 2)],
        asks.tension.0 + n % asks.tension.1,
    );
    for x in 0..exposures {
        let state = pick(n, 30 + x, states);
        let (medium, kind) = &media[state % media.len()];
        let stage = match kind.as_str() {
            "gas" => "service",
            "liquid" => asks.liquids,
            _ => ["assembly", "cleaning"][state % 2],
        };
        let temperature = 23.0 + (state % asks.warm) as f64 + (state / media.len()) as f64 * 0.013;
        let duration = match stage {
            "service" => "20 a".to_owned(),
            _ => format!("{} min", 5 + state % 50),
        };
        let extra = match kind.as_str() {
            "gas" => format!("humidity = \"{} %\"\n", 20 + state % 75),
            "liquid" => "water_content = \"10 mg/kg\"\n".to_owned(),
            _ => String::new(),
        };
        let _ = write!(
            text,
            "[[exposure]]\nname = \"x{x}\"\nstage = \"{stage}\"\nmedium = \"{medium}\"\ntemperature = \"{temperature} degC\"\n\
             duration = \"{duration}\"\n{extra}"
        );
    }
    text
}

/// The numbers of a copy moved by some percent, each copy by its own, where nothing bounds them above.
fn nudged(rest: &str, copy: &str) -> String {
    const MOVED: [&str; 7] = [
        "modulus",
        "permittivity",
        "crosslink_density",
        "molar_volume",
        "viscosity",
        "diffusivity",
        "saturation_uptake",
    ];
    let Some((_, number)) = copy.rsplit_once("-copy") else { return rest.to_owned() };
    let seed = number.bytes().fold(0, |seed: usize, byte| seed.wrapping_mul(31) % 65_521 + usize::from(byte));
    let by = 1.0 + 0.001 * (1 + pick(seed, 40, 50)) as f64;
    let at = usize::from(rest.starts_with("on-"));
    let mut cells: Vec<String> = rest.split(',').map(str::to_owned).collect();
    if !cells.get(at).is_some_and(|property| MOVED.contains(&property.as_str())) {
        return rest.to_owned();
    }
    for cell in cells.iter_mut().skip(at + 1).take(3) {
        let (value, unit) = cell.split_once(' ').map_or((cell.as_str(), ""), |(value, unit)| (value, unit));
        if let Ok(value) = value.parse::<f64>() {
            format!("{:.6e} {unit}", value * by).trim_end().clone_into(cell);
        }
    }
    cells.join(",")
}

//! The closed word lists of the data files and enquiries.

/// Kinds of equipment.
pub const EQUIPMENT: &[&str] =
    &["liquid-immersed-transformer", "dry-type-transformer", "reactor", "motor", "generator", "toroid", "coil"];
/// What the tape does there.
pub const FUNCTION: &[&str] =
    &["banding", "outer-wrap", "interlayer", "end-turn-wrap", "lead-hold-down", "phase-separation"];
/// How long the tape itself must do its work.
pub const NEEDED: &[&str] = &["life", "until-cure"];
/// What surrounds it in service.
pub const ATMOSPHERE: &[&str] = &["air", "nitrogen", "vacuum", "sealed-liquid"];
/// Whether the tape or the insulation system is recognised.
pub const RECOGNITION: &[&str] = &["tape", "system"];
/// What the life rests on.
pub const LIFE_BASIS: &[&str] = &["class", "duty"];
/// Kinds of voltage.
pub const VOLTAGE: &[&str] = &["ac", "dc", "impulse", "converter"];
/// What fills the wedge at a lap.
pub const WEDGE: &[&str] = &["air", "liquid", "resin"];
/// When a medium is met.
pub const STAGE: &[&str] = &["assembly", "cleaning", "service"];
/// What is wanted of a medium.
pub const WANTED: &[&str] = &["resist", "impregnate", "pass-through"];
/// Kinds of material.
pub const MATERIAL: &[&str] = &["backing", "adhesive", "liquid", "resin", "solvent", "gas"];
/// Standing of a tape in the catalogue.
pub const STATUS: &[&str] = &["active", "discontinued"];
/// How a tape's adhesive cures.
pub const CURE: &[&str] = &["none", "thermosetting"];
/// What a temperature index was measured on.
pub const INDEX_BASIS: &[&str] = &["tape", "system"];
/// Yes or no.
pub const YES_NO: &[&str] = &["yes", "no"];
/// Silicone on the tape.
pub const SILICONE: &[&str] = &["none", "present"];
/// Direction of a pair.
pub const EFFECT: &[&str] = &["on-material", "on-medium"];
/// What a wrong answer endangers.
pub const HAZARD: &[&str] = &["dielectric", "flame", "thermal", "chemical", "none"];
/// How a criterion's margin is taken.
pub const SCALE: &[&str] = &["ratio", "difference", "order", "yes-no"];
/// Which way is better.
pub const BETTER: &[&str] = &["lower", "higher"];
/// Properties of a construction that a preference may ask for; each follows from the data.
pub const TRAITS: &[&str] = &[
    "open",
    "closed",
    "absorbent",
    "absorbent-and-thermosetting",
    "thermosetting",
    "reinforced",
    "yielding",
    "thin",
    "low-permittivity",
];
/// What an enquiry must state for a criterion to be asked.
pub const NEEDS: &[&str] = &[
    "voltage",
    "across",
    "tension",
    "bend_radius",
    "circumference",
    "build_limit",
    "width",
    "length",
    "adhesion_needed",
    "surface",
    "coldest",
    "colour",
    "thermal_class",
    "load_profile",
    "acidity",
    "recognition",
    "storage",
    "wound",
];
/// Situations that bring up a caution.
pub const TRIGGER: &[&str] = &[
    "always",
    "voltage",
    "converter",
    "gap-in-air",
    "liquid-service",
    "hot-liquid",
    "legacy-liquid",
    "waste-oil",
    "solvent",
    "solvent-flash",
    "reactive-resin",
    "peroxide-cure",
    "exotherm",
    "amine-anhydride-isocyanate",
    "waste-resin",
    "vacuum-pressure",
    "bake",
    "silicone-adhesive",
    "sulphur-halogen-in-liquid",
    "fluoropolymer-hot",
    "vinyl",
    "glass-dust",
    "aramid-dust",
    "banding",
    "rotating",
    "lifted",
    "repair-on-site",
];

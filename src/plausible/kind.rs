//! The closed table of remarks: what each looks at, its limit, how to settle it.

use std::fmt;

macro_rules! kinds {
    ($($name:ident = $code:literal, $looks:literal, $limit:literal, $settle:literal;)+) => {
        /// A kind of remark; the printed form is kebab-case.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Kind {
            $(#[doc = $looks] $name,)+
        }

        impl Kind {
            /// Every kind there is.
            pub const ALL: &'static [Kind] = &[$(Kind::$name,)+];

            /// The code as it is printed.
            #[must_use]
            pub const fn code(self) -> &'static str {
                match self { $(Kind::$name => $code,)+ }
            }

            /// What it looks at.
            #[must_use]
            pub const fn looks(self) -> &'static str {
                match self { $(Kind::$name => $looks,)+ }
            }

            /// The limit.
            #[must_use]
            pub const fn limit(self) -> &'static str {
                match self { $(Kind::$name => $limit,)+ }
            }

            /// How to settle it.
            #[must_use]
            pub const fn settle(self) -> &'static str {
                match self { $(Kind::$name => $settle,)+ }
            }
        }
    };
}

kinds! {
    UnitSlip = "unit-slip",
        "a number that would be usual if it were 10, 25.4, 39.37, 100, 1 000 or 1 000 000 times larger or smaller, or in the other temperature scale",
        "the usual range of `ranges.csv`, else the numbers of at least four like tapes",
        "read the sheet again and write its own unit";
    ValueUnusual = "value-unusual",
        "a number outside what its kind, family or material usually has",
        "the row of `ranges.csv`",
        "read the source again; mend the number, or the range if it is too narrow";
    FactConflict = "fact-conflict",
        "two numbers of one subject, property and condition, of different standing, whose intervals do not meet",
        "a number without a spread counts as itself within 5 %, a temperature within 5 K",
        "find out which is right; take the wrong one out, or say in `condition` how they differ";
    SpreadNarrow = "spread-narrow",
        "a recalled or estimated number with a spread too narrow to be believed",
        "both ends within 0.1 % of the value, ends given",
        "widen `low` and `high` until you would bet nine to one";
    SourceOld = "source-old",
        "the sheet or report behind numbers about a tape is old",
        "10 years before the date of `about.toml`",
        "ask for the current sheet or a new report";
    SourceOverdue = "source-overdue",
        "the day in `revised` of a source that rows name has passed",
        "the date of `about.toml`",
        "get the new edition, check what is taken from it, set `revised` to its next one or take the key out";
    SourceUnused = "source-unused",
        "a source that no row, criterion, caution or text names",
        "none",
        "name it where it serves, or take it out";
    MaterialUnused = "material-unused",
        "a backing or adhesive that no tape is made of, a medium about which nothing is known",
        "none",
        "add what needs it, or take it out";
    ThicknessSum = "thickness-sum",
        "total thickness against backing and adhesive on each coated side",
        "3 %",
        "read the three thicknesses again";
    IndexAboveParts = "index-above-parts",
        "a temperature index above what backing and adhesive are known to bear",
        "`temperature_index` of their families in `ranges.csv`",
        "ask for the ageing report and write its number as a fact, or mend the index";
    StrengthImpossible = "strength-impossible",
        "breakdown voltage over backing thickness against the strength of the backing",
        "`breakdown_strength` in `ranges.csv`",
        "read voltage and thickness again; a voltage in oil or of several layers is not the sheet's";
    TensileImpossible = "tensile-impossible",
        "tensile force over backing thickness against the strength of the backing",
        "`tensile_strength` in `ranges.csv`",
        "read force, width and thickness again";
    UnwindContradiction = "unwind-contradiction",
        "unwind against adhesion to own backing, which is what unwinding peels",
        "0.3 to 1.6 times",
        "read both again, with their units and angles";
    BackingOverSteel = "backing-over-steel",
        "adhesion to own backing above adhesion to steel",
        "1.1 times",
        "see whether the two were swapped";
    PeelTears = "peel-tears",
        "a peel or unwind force that the backing could not carry",
        "half of the tensile force",
        "read adhesion, unwind and tensile again";
    ElongationSmall = "elongation-small",
        "an elongation smaller than tensile stress over modulus: the tape would break before it reaches its tensile force",
        "half of the tensile stress over the highest modulus of the backing",
        "read elongation and tensile again";
    BendContradiction = "bend-contradiction",
        "a cold bend that is passed although the outer face stretches more than the elongation",
        "bend of 3 mm radius",
        "read elongation and cold bend again";
    ShearAboveIndex = "shear-above-index",
        "a shear test hotter than the temperature index",
        "0 K",
        "read both temperatures again";
    HalvingUnusual = "halving-unusual",
        "a halving interval outside what insulation usually has",
        "`halving_interval` in `ranges.csv`",
        "ask for the ageing report";
    CureContradiction = "cure-contradiction",
        "`adhesive_cure` against the adhesive's `cures_to`, and a bake without its temperature or time",
        "none",
        "mend the word, name what the adhesive becomes, or add the bake";
    ShelfLifeThermosetting = "shelf-life-thermosetting",
        "the shelf life of a tape whose adhesive still reacts",
        "18 months",
        "ask the maker; a reactive adhesive ages in the box";
    SiliconeContradiction = "silicone-contradiction",
        "`silicone` is `none` with a silicone adhesive",
        "none",
        "write `present`";
    HalogenContradiction = "halogen-contradiction",
        "a vinyl backing with next to no halogen",
        "1 % by mass",
        "write the content of the film, or say in `note` what was extracted";
    PorosityContradiction = "porosity-contradiction",
        "open pores of the tape above the pores of its backing",
        "the upper end of the backing's `porosity`",
        "read `open_porosity` again, or mend the backing's fact";
    TapeDuplicate = "tape-duplicate",
        "two active tapes whose physical cells are all alike",
        "none",
        "take one out, or find what differs";
    DiscontinuedAlone = "discontinued-alone",
        "a discontinued tape whose `note` names no active tape, and none of the like is left",
        "same backing family, adhesive family and coated sides, total thickness within 30 %",
        "name the successor's id in `note`, or accept that there is none";
    CostMissing = "cost-missing",
        "no active tape has a relative cost: the order knows none",
        "none",
        "fill in `relative_cost`";
    NothingAsked = "nothing-asked",
        "an enquiry to which no criterion applies",
        "none",
        "state more: voltage, winding, exposures";
    ExposureHotter = "exposure-hotter",
        "a service exposure hotter than everything in the duty",
        "the hottest step of the profile, else the class",
        "add the step to `load_profile`, or mend the exposure";
    ExposureCooler = "exposure-cooler",
        "a service liquid cooler than the duty is on the average",
        "the mean of the load profile",
        "mend the exposure or the profile, or accept it: say why the liquid at the tape stays cooler";
    StorageOutside = "storage-outside",
        "a storage warmer, colder, damper or drier than the sheets of active tapes state",
        "`storage` of `tapes.csv`, where it states degC or % from one number to another",
        "mend the exposure, or agree with the maker what that does to the shelf life and accept it";
    ExposureLonger = "exposure-longer",
        "a service exposure that lasts longer than the life asked for",
        "the life",
        "mend the duration or the life";
    ProfileAboveClass = "profile-above-class",
        "a load profile hotter than the thermal class",
        "0 K",
        "mend the class or the profile; a class is what the hottest spot may have";
    WipeLong = "wipe-long",
        "a wipe that evaporates and yet lasts",
        "1 h",
        "take `evaporates` out if it is a bath, or mend the duration";
    BakeCool = "bake-cool",
        "a bake that cures and is hardly warm",
        "60 degC",
        "mend the temperature, or take `cure` out";
    VacuumHigh = "vacuum-high",
        "a residual pressure that is no vacuum, or above the pressure that follows",
        "50 kPa",
        "write the residual pressure, such as `0.5 kPa`";
    WidthContradiction = "width-contradiction",
        "a tape wider than the circumference it is wound round",
        "1 times",
        "read width and circumference again";
    AskedUnusual = "asked-unusual",
        "a number of an enquiry outside what is usual",
        "the rows of kind `enquiry` in `ranges.csv`",
        "ask the customer again, or accept it with the answer";
    SystemUnlisted = "system-unlisted",
        "an insulation system that no active tape lists",
        "none",
        "check the spelling, or be told so: every tape will be outside the system";
    ColourUnlisted = "colour-unlisted",
        "a colour that no active tape has",
        "none",
        "check the word against `colour` of `tapes.csv`";
    NumberTwice = "number-twice",
        "two enquiries of one number: only the first is ever found by it",
        "none",
        "give one of them a number of its own";
    AcceptanceStale = "acceptance-stale",
        "an acceptance that no remark answers to, or whose value has changed since",
        "none",
        "take it out, or accept the new value for a new reason";
}

impl Kind {
    /// The kind of a code.
    #[must_use]
    pub fn of(code: &str) -> Option<Kind> {
        Kind::ALL.iter().find(|kind| kind.code() == code).copied()
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl serde::Serialize for Kind {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.code())
    }
}

//! The closed table of properties: what each is, its unit, its bounds, and whom it may describe.

use crate::quantity::{
    ANGLE, CONTENT, DENSITY, DIFFERENCE, DIFFUSIVITY, FIELD_PER_PRESSURE, FIELD_STRENGTH, FORCE, FORCE_PER_LENGTH,
    FRACTION, IONISATION, Kind, LENGTH, MOLALITY, MOLAR_DENSITY, MOLAR_ENERGY, MOLAR_MASS, MOLAR_VOLUME, PRESSURE,
    RESISTIVITY, SECOND_ORDER_RATE, SOLUBILITY_PARAMETER, SURFACE_TENSION, TEMPERATURE, TIME, VISCOSITY, VOLTAGE,
};

/// Who a property may describe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum On {
    /// A material or a medium, in `facts.csv`; a tape may override it there.
    Material,
    /// A tape: a column of `tapes.csv`, which `facts.csv` may override with a spread.
    Tape,
    /// Both.
    Either,
    /// A material in a medium, in `pairs.csv`.
    Pair,
}

/// The side of a wrap that a drawn property belongs to: what is drawn for the adhesive is apart from
/// what is drawn for the backing, and shared by all tapes with that adhesive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// The adhesive, alone or in a medium.
    Adhesive,
    /// The backing, alone or in a medium.
    Backing,
    /// The medium, or the tape as a whole.
    Other,
}

/// How a series over temperature is interpolated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Course {
    /// The value hardly depends on temperature: one point stands for all temperatures.
    Steady,
    /// Linear between points; away from them it is an extrapolation.
    Linear,
    /// Linear in its logarithm; away from the points it is an extrapolation.
    Logarithmic,
}

/// The description of one property.
#[derive(Debug)]
pub struct Spec {
    /// The name in the data files.
    pub name: &'static str,
    /// What its numbers are.
    pub kind: &'static Kind,
    /// The lowest possible value, in SI.
    pub floor: f64,
    /// The highest possible value, in SI.
    pub ceiling: f64,
    /// True where the spread is normal always.
    pub signed: bool,
    /// Whom it may describe.
    pub on: On,
    /// How it depends on temperature.
    pub course: Course,
}

macro_rules! properties {
    ($($id:ident = $name:literal, $kind:ident, $floor:expr, $ceiling:expr, $on:ident, $course:ident $(, $signed:ident)?;)+) => {
        /// A property that a fact can state.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Property {
            $(#[doc = concat!("`", $name, "`")] $id,)+
        }

        impl Property {
            /// Every property, in the order that numbers the draws; append only.
            pub const ALL: &'static [Property] = &[$(Property::$id,)+];

            /// Its description.
            #[must_use]
            pub fn spec(self) -> &'static Spec {
                static SPECS: &[Spec] = &[$(Spec {
                    name: $name, kind: &$kind, floor: $floor, ceiling: $ceiling,
                    signed: properties!(@signed $($signed)?), on: On::$on, course: Course::$course,
                },)+];
                &SPECS[self as usize]
            }
        }
    };
    (@signed) => { false };
    (@signed signed) => { true };
}

const INF: f64 = f64::INFINITY;
const NEG: f64 = f64::NEG_INFINITY;

properties! {
    HansenD = "hansen_d", SOLUBILITY_PARAMETER, NEG, INF, Material, Steady;
    HansenP = "hansen_p", SOLUBILITY_PARAMETER, NEG, INF, Material, Steady, signed;
    HansenH = "hansen_h", SOLUBILITY_PARAMETER, NEG, INF, Material, Steady, signed;
    HansenR0 = "hansen_r0", SOLUBILITY_PARAMETER, 0.0, INF, Material, Steady;
    MolarVolume = "molar_volume", MOLAR_VOLUME, 0.0, INF, Material, Steady;
    Density = "density", DENSITY, 0.0, INF, Material, Linear;
    Permittivity = "permittivity", FRACTION, 1.0, INF, Material, Steady;
    VolumeResistivity = "volume_resistivity", RESISTIVITY, 0.0, INF, Material, Logarithmic;
    CrosslinkDensity = "crosslink_density", MOLAR_DENSITY, 0.0, INF, Material, Steady;
    SolubleFraction = "soluble_fraction", FRACTION, 0.0, 1.0, Material, Steady;
    ChiOffset = "chi_offset", FRACTION, NEG, INF, Material, Steady, signed;
    ChiSlope = "chi_slope", FRACTION, 0.0, INF, Material, Steady;
    Modulus = "modulus", PRESSURE, 0.0, INF, Material, Steady;
    Porosity = "porosity", FRACTION, 0.0, 1.0, Material, Steady;
    PoreRadius = "pore_radius", LENGTH, 0.0, INF, Material, Steady;
    PoreRadiusBetweenYarns = "pore_radius_between_yarns", LENGTH, 0.0, INF, Material, Steady;
    GlassTransition = "glass_transition", TEMPERATURE, 0.0, INF, Material, Steady;
    Viscosity = "viscosity", VISCOSITY, 0.0, INF, Material, Logarithmic;
    SurfaceTension = "surface_tension", SURFACE_TENSION, 0.0, INF, Material, Steady;
    ContactAngle = "contact_angle", ANGLE, 0.0, core::f64::consts::PI, Material, Steady;
    MoistureAbsorption = "moisture_absorption", FRACTION, 0.0, INF, Material, Steady;
    Diffusivity = "diffusivity", DIFFUSIVITY, 0.0, INF, Either, Logarithmic;
    ActivationEnergy = "activation_energy", MOLAR_ENERGY, 0.0, INF, Either, Steady;
    TemperatureIndex = "temperature_index", TEMPERATURE, 0.0, INF, Either, Steady;
    HalvingInterval = "halving_interval", DIFFERENCE, 0.0, INF, Either, Steady;
    StrengthExponent = "strength_exponent", FRACTION, 0.0, 1.0, Material, Steady;
    EnduranceExponent = "endurance_exponent", FRACTION, 0.0, INF, Material, Steady;
    SolubilityA = "solubility_a", FRACTION, NEG, INF, Material, Steady;
    SolubilityB = "solubility_b", DIFFERENCE, NEG, INF, Material, Steady;
    NumberAverageMolarMass = "number_average_molar_mass", MOLAR_MASS, 0.0, INF, Material, Steady;
    CriticalMolarMass = "critical_molar_mass", MOLAR_MASS, 0.0, INF, Material, Steady;
    EsterConcentration = "ester_concentration", MOLALITY, 0.0, INF, Material, Steady;
    HydrolysisRate = "hydrolysis_rate", SECOND_ORDER_RATE, 0.0, INF, Material, Steady;
    HydrolysisEnergy = "hydrolysis_energy", MOLAR_ENERGY, 0.0, INF, Material, Steady;
    HydrolysisEnergyBelow = "hydrolysis_energy_below_glass_transition", MOLAR_ENERGY, 0.0, INF, Material, Steady;
    PaschenA = "paschen_a", IONISATION, 0.0, INF, Material, Steady;
    PaschenB = "paschen_b", FIELD_PER_PRESSURE, 0.0, INF, Material, Steady;
    PaschenGamma = "paschen_gamma", FRACTION, 0.0, 1.0, Material, Steady;
    GapBreakdown = "gap_breakdown", FIELD_STRENGTH, 0.0, INF, Material, Steady;
    FlashPoint = "flash_point", TEMPERATURE, 0.0, INF, Material, Steady;
    BoilingPoint = "boiling_point", TEMPERATURE, 0.0, INF, Material, Steady;
    PotLife = "pot_life", TIME, 0.0, INF, Material, Logarithmic;
    GelTime = "gel_time", TIME, 0.0, INF, Either, Logarithmic;
    CureEnergy = "cure_energy", MOLAR_ENERGY, 0.0, INF, Material, Steady;

    Chi = "chi", FRACTION, NEG, INF, Pair, Steady, signed;
    SaturationUptake = "saturation_uptake", FRACTION, 0.0, INF, Pair, Steady;
    Swelling = "swelling", FRACTION, 0.0, INF, Pair, Steady;
    AdhesionKept = "adhesion_kept", FRACTION, 0.0, INF, Pair, Steady;
    ShearKept = "shear_kept", FRACTION, 0.0, INF, Pair, Steady;
    BondKept = "bond_kept", FRACTION, 0.0, INF, Pair, Steady;
    TensileKept = "tensile_kept", FRACTION, 0.0, INF, Pair, Steady;
    BreakdownKept = "breakdown_kept", FRACTION, 0.0, INF, Pair, Steady;
    Extractable = "extractable", FRACTION, 0.0, 1.0, Pair, Steady;
    LossFactor = "loss_factor", FRACTION, 0.0, INF, Either, Steady;
    InterfacialTension = "interfacial_tension", SURFACE_TENSION, 0.0, INF, Either, Steady;
    Acidity = "acidity", CONTENT, 0.0, INF, Either, Steady;
    Colour = "colour", FRACTION, 0.0, INF, Pair, Steady;
    Breakdown = "breakdown", VOLTAGE, 0.0, INF, Either, Steady;
    DissolvedGas = "dissolved_gas", CONTENT, 0.0, INF, Pair, Steady;

    BackingThickness = "backing_thickness", LENGTH, 0.0, INF, Tape, Steady;
    AdhesiveThickness = "adhesive_thickness", LENGTH, 0.0, INF, Tape, Steady;
    TotalThickness = "total_thickness", LENGTH, 0.0, INF, Tape, Steady;
    CureTemperature = "cure_temperature", TEMPERATURE, 0.0, INF, Tape, Steady;
    CureTime = "cure_time", TIME, 0.0, INF, Tape, Steady;
    Tensile = "tensile", FORCE_PER_LENGTH, 0.0, INF, Tape, Steady;
    Elongation = "elongation", FRACTION, 0.0, INF, Tape, Steady;
    Adhesion = "adhesion", FORCE_PER_LENGTH, 0.0, INF, Tape, Steady;
    AdhesionAngle = "adhesion_angle", ANGLE, 0.0, core::f64::consts::PI, Tape, Steady;
    AdhesionDwell = "adhesion_dwell", TIME, 0.0, INF, Tape, Steady;
    AdhesionToBacking = "adhesion_to_backing", FORCE_PER_LENGTH, 0.0, INF, Tape, Steady;
    Shear = "shear", PRESSURE, 0.0, INF, Tape, Steady;
    ShearTemperature = "shear_temperature", TEMPERATURE, 0.0, INF, Tape, Steady;
    Unwind = "unwind", FORCE_PER_LENGTH, 0.0, INF, Tape, Steady;
    EdgeTear = "edge_tear", FORCE, 0.0, INF, Tape, Steady;
    Puncture = "puncture", FORCE, 0.0, INF, Tape, Steady;
    ElectrolyticCorrosion = "electrolytic_corrosion", FRACTION, 0.0, 1.0, Tape, Steady;
    Halogen = "halogen", CONTENT, 0.0, 1.0, Tape, Steady;
    Sulphur = "sulphur", CONTENT, 0.0, 1.0, Tape, Steady;
    TrackingIndex = "tracking_index", VOLTAGE, 0.0, INF, Tape, Steady;
    Shrinkage = "shrinkage", FRACTION, 0.0, 1.0, Tape, Steady;
    ShrinkageTemperature = "shrinkage_temperature", TEMPERATURE, 0.0, INF, Tape, Steady;
    ColdBend = "cold_bend", TEMPERATURE, 0.0, INF, Tape, Steady;
    Outgassing = "outgassing", FRACTION, 0.0, 1.0, Tape, Steady;
    OpenPorosity = "open_porosity", FRACTION, 0.0, 1.0, Tape, Steady;
    ShelfLife = "shelf_life", TIME, 0.0, INF, Tape, Steady;
    RollLength = "roll_length", LENGTH, 0.0, INF, Tape, Steady;
    MinimumWidth = "minimum_width", LENGTH, 0.0, INF, Tape, Steady;
    RelativeCost = "relative_cost", FRACTION, 0.0, INF, Tape, Steady;
    ThroughPorosity = "through_porosity", FRACTION, 0.0, 1.0, Material, Steady;
}

impl Property {
    /// The name in the data files.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.spec().name
    }

    /// The property of a name.
    #[must_use]
    pub fn of(name: &str) -> Option<Property> {
        Property::ALL.iter().find(|p| p.name() == name).copied()
    }

    /// The number of the Sobol dimension that draws it, apart for each side of a wrap.
    ///
    /// Properties of materials and pairs have three dimensions, those of tapes one.
    #[must_use]
    pub const fn dimension(self, side: Side) -> u32 {
        let shared = Property::BackingThickness as u32;
        let index = self as u32;
        if index < shared { 3 * index + side as u32 } else { 3 * shared + (index - shared) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique() {
        for property in Property::ALL {
            assert_eq!(Property::of(property.name()), Some(*property));
        }
    }
}

//! What is assumed of a carburetor where its description is silent. Every figure here is common practice or our own
//! reckoning; none is used for a mixture the tool stands behind, because advice takes the mixture from the log and
//! only the shares from here.

use crate::units::{Area, Length, Pressure, PressureDifference, TimeSpan, Vacuum, Volume};

/// Discharge coefficient of a venturi with its booster in place (textbook examples use 0.80 to 0.93).
pub const VENTURI_DISCHARGE: f64 = 0.90;
/// Ratio of booster signal to venturi depression.
pub const BOOSTER_GAIN: f64 = 1.7;
/// Height of the nozzle lip above the fuel.
pub const LIP: Length = Length::from_mm(5.0);
/// Depth of the first emulsion holes below the fuel.
pub const EMULSION_DEPTH: Length = Length::from_mm(12.0);
/// Drop over which the nozzle comes in; spreads the handing over from idle to main about as wide as practice sees it.
pub const NOZZLE_START: PressureDifference = PressureDifference::from_pa(600.0);
/// Discharge nozzle over main jet, by bore.
pub const NOZZLE_OVER_JET: f64 = 2.2;
/// Discharge coefficient of the nozzle.
pub const NOZZLE_DISCHARGE: f64 = 0.70;
/// Discharge coefficient of air bleeds and of the enrichment channel.
pub const BLEED_DISCHARGE: f64 = 0.75;
/// Enrichment valve seat over channel restriction, by area (one seat feeds two channels).
pub const SEAT_OVER_CHANNEL: f64 = 3.0;
/// Range of vacuum over which the enrichment valve goes from shut to open, centred on its mark: a truck carburetor
/// is published as opening from about 7.5 to 6.5 inHg, and a bench check allows 0.5 to 1 inHg.
pub const ENRICHMENT_WIDTH: Vacuum = Vacuum::from_inhg(1.0);
/// Throttle bore over venturi bore.
pub const THROTTLE_OVER_VENTURI: f64 = 1.30;
/// Share of throttle travel at which secondaries begin to open.
pub const SECONDARY_OPENS_AT: f64 = 0.45;
/// Effective area of the outlet for one turn of one mixture screw.
pub const SCREW_AREA_PER_TURN: Area = Area::from_mm2(0.125);
/// Effective area of the fixed idle port where the screws meter air.
pub const FIXED_IDLE_PORT: Area = Area::from_mm2(0.20);
/// Effective area of the whole transition slot of a barrel.
pub const SLOT_AREA: Area = Area::from_mm2(0.85);
/// Length of that slot.
pub const SLOT_LENGTH: Length = Length::from_mm(5.0);
/// Slot showing below the blade at curb idle.
pub const SLOT_EXPOSURE: Length = Length::from_inches(0.028);
/// Share of throttle travel at which the slot is uncovered whole (off idle is 3 to 12 % of travel).
pub const SLOT_TRAVEL: f64 = 0.14;
/// Height the idle fuel is lifted from the fuel level to the idle bleed.
pub const IDLE_LIFT: Length = Length::from_mm(12.0);
/// Viscosity of gasoline at 20 C, Pa s (0.4 to 0.6 are quoted).
pub const VISCOSITY: f64 = 5.0e-4;
/// Loss of density of gasoline with temperature, per K (API MPMS 11.1 gives about this for 745 kg/m3).
pub const FUEL_EXPANSION_PER_K: f64 = 9.6e-4;
/// Pressure the pump's spring puts behind its nozzle.
pub const PUMP_PRESSURE: PressureDifference = PressureDifference::from_kpa(20.0);
/// Volume of a pump stroke of one barrel when it was not measured.
pub const PUMP_VOLUME: Volume = Volume::from_cc(1.0);
/// Time from the start of the pump lever to the first fuel.
pub const PUMP_DELAY: TimeSpan = TimeSpan::from_ms(40.0);
/// Pressure of standard air (ICAO).
pub const STANDARD_PRESSURE: Pressure = Pressure::from_pa(101_325.0);

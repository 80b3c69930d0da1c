//! Numbers that stop a pull.

use crate::rules::border::{above, below};
use crate::setup::FuelFamily;
use crate::units::{Fraction, Lambda, PressureDifference, Temperature, TimeSpan};
use serde::{Deserialize, Serialize};

/// Kinds of engine and fuel with lambda limits of their own at full throttle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LimitKind {
    /// Gasoline, water-cooled, without boost.
    Water,
    /// Air-cooled, marine, towing, farm.
    HardWorked,
    /// Ethanol blends.
    Ethanol,
    /// Methanol.
    Methanol,
}

impl LimitKind {
    /// All of them.
    pub const ALL: [LimitKind; 4] =
        [LimitKind::Water, LimitKind::HardWorked, LimitKind::Ethanol, LimitKind::Methanol];

    /// Its name in the table.
    pub const fn name(self) -> &'static str {
        match self {
            LimitKind::Water => "water",
            LimitKind::HardWorked => "hard-worked",
            LimitKind::Ethanol => "ethanol",
            LimitKind::Methanol => "methanol",
        }
    }

    /// The row of a fuel alone.
    pub const fn of_fuel(family: FuelFamily) -> LimitKind {
        match family {
            FuelFamily::Gasoline => LimitKind::Water,
            FuelFamily::Ethanol => LimitKind::Ethanol,
            FuelFamily::Methanol => LimitKind::Methanol,
        }
    }
}

/// Lambda limits of one kind at full throttle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FullThrottleLimit {
    /// Which kind.
    pub kind: LimitKind,
    /// Leaner than this is warned of.
    pub warn_lean: Lambda,
    /// Leaner than this stops the pull.
    pub stop_lean: Lambda,
    /// Richer than this is warned of.
    pub warn_rich: Lambda,
    /// Richer than this stops the pull.
    pub stop_rich: Lambda,
}

/// Hard limits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LimitNumbers {
    /// A lambda limit counts when it is passed for longer than this.
    pub longer_than: TimeSpan,
    /// Lambda climbing more than this within one pull is warned of.
    pub climb_in_one_pull: Lambda,
    /// A fall of fuel pressure that, with a climb, is starvation.
    pub fuel_pressure_fall: PressureDifference,
    /// Exhaust gas at the sensor: warning.
    pub exhaust_warn: Temperature,
    /// Exhaust gas at the sensor: stop.
    pub exhaust_stop: Temperature,
    /// Carbon monoxide where people breathe, parts in a million: warning.
    pub carbon_monoxide_warn_ppm: f64,
    /// Carbon monoxide where people breathe, parts in a million: leave.
    pub carbon_monoxide_stop_ppm: f64,
    /// The most jet steps leaner that may be advised at full throttle in one change.
    pub jet_steps_leaner_at_full_throttle: u8,
    /// The most chance advice may take of a full-throttle station passing its lean limit.
    pub chance_of_passing_lean_limit: Fraction,
    /// Lambda limits by kind.
    pub full_throttle: Vec<FullThrottleLimit>,
}

impl LimitNumbers {
    /// The row of a kind.
    pub fn of(&self, kind: LimitKind) -> Option<&FullThrottleLimit> {
        self.full_throttle.iter().find(|l| l.kind == kind)
    }

    pub(super) fn flaw(&self) -> Option<String> {
        for kind in LimitKind::ALL {
            let Some(l) = self.of(kind) else {
                return Some(format!("limits.full_throttle has no row of kind \"{}\"", kind.name()));
            };
            let ordered =
                l.stop_rich <= l.warn_rich && l.warn_rich < l.warn_lean && l.warn_lean <= l.stop_lean;
            if !ordered {
                return Some(format!(
                    "limits.full_throttle of kind \"{}\" must rise from stop_rich over warn_rich and warn_lean to stop_lean",
                    kind.name()
                ));
            }
        }
        let chance = self.chance_of_passing_lean_limit.as_ratio();
        (!(0.0..=0.5).contains(&chance))
            .then(|| "limits.chance_of_passing_lean_limit must be from 0 % to 50 %".to_owned())
    }

    /// What is looser here than in `common`.
    pub(super) fn loosened(&self, common: &LimitNumbers) -> Vec<String> {
        let mut said = Vec::new();
        for theirs in &common.full_throttle {
            let Some(ours) = self.of(theirs.kind) else { continue };
            let lean =
                [("warning", ours.warn_lean, theirs.warn_lean), ("stop", ours.stop_lean, theirs.stop_lean)];
            for (what, ours, common) in lean.into_iter().filter(|(_, o, c)| above(*o, *c)) {
                said.push(lambda_said(theirs.kind, "lean", what, ours, common));
            }
            let rich =
                [("warning", ours.warn_rich, theirs.warn_rich), ("stop", ours.stop_rich, theirs.stop_rich)];
            for (what, ours, common) in rich.into_iter().filter(|(_, o, c)| below(*o, *c)) {
                said.push(lambda_said(theirs.kind, "rich", what, ours, common));
            }
        }
        let mut other = |looser: bool, what: &str, ours: String, common: String| {
            if looser {
                said.push(format!("{what} loosened from {common} to {ours}"));
            }
        };
        other(
            above(self.longer_than, common.longer_than),
            "time a lambda limit may be passed",
            format!("{:?}", self.longer_than),
            format!("{:?}", common.longer_than),
        );
        other(
            above(self.climb_in_one_pull, common.climb_in_one_pull),
            "lambda climb within one pull",
            format!("{:?}", self.climb_in_one_pull),
            format!("{:?}", common.climb_in_one_pull),
        );
        other(
            above(self.fuel_pressure_fall, common.fuel_pressure_fall),
            "fall of fuel pressure in a pull",
            format!("{:?}", self.fuel_pressure_fall),
            format!("{:?}", common.fuel_pressure_fall),
        );
        other(
            above(self.exhaust_warn, common.exhaust_warn),
            "exhaust temperature warning",
            format!("{:?}", self.exhaust_warn),
            format!("{:?}", common.exhaust_warn),
        );
        other(
            above(self.exhaust_stop, common.exhaust_stop),
            "exhaust temperature stop",
            format!("{:?}", self.exhaust_stop),
            format!("{:?}", common.exhaust_stop),
        );
        other(
            self.carbon_monoxide_warn_ppm > common.carbon_monoxide_warn_ppm,
            "carbon monoxide warning",
            format!("{} ppm", self.carbon_monoxide_warn_ppm),
            format!("{} ppm", common.carbon_monoxide_warn_ppm),
        );
        other(
            self.carbon_monoxide_stop_ppm > common.carbon_monoxide_stop_ppm,
            "carbon monoxide stop",
            format!("{} ppm", self.carbon_monoxide_stop_ppm),
            format!("{} ppm", common.carbon_monoxide_stop_ppm),
        );
        other(
            self.jet_steps_leaner_at_full_throttle > common.jet_steps_leaner_at_full_throttle,
            "jet steps leaner at full throttle",
            self.jet_steps_leaner_at_full_throttle.to_string(),
            common.jet_steps_leaner_at_full_throttle.to_string(),
        );
        other(
            above(self.chance_of_passing_lean_limit, common.chance_of_passing_lean_limit),
            "chance of passing the lean limit",
            format!("{:?}", self.chance_of_passing_lean_limit),
            format!("{:?}", common.chance_of_passing_lean_limit),
        );
        said
    }
}

fn lambda_said(kind: LimitKind, side: &str, what: &str, ours: Lambda, common: Lambda) -> String {
    format!(
        "full-throttle {side} {what} ({}) loosened from lambda {:.2} to {:.2}",
        kind.name(),
        common.as_ratio(),
        ours.as_ratio()
    )
}

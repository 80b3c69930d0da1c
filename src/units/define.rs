//! The one macro that gives a quantity its doors, its refusal of nonsense and its spelling.

/// A unit a person may write, and how it maps to the inside unit: `inside = written * scale + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// The spelling the tool itself uses.
    pub symbol: &'static str,
    /// Other spellings accepted, compared without case, spaces or dots.
    pub aliases: &'static [&'static str],
    /// Inside units in one written unit.
    pub scale: f64,
    /// Inside units at written zero (only temperatures have one).
    pub offset: f64,
}

/// What every quantity of the program can do: a name for messages, the units it is written in, and the
/// two doors to its inside value.
pub trait Quantity: Copy + PartialOrd + core::fmt::Debug {
    /// What it is called in a message: "a pressure", "a length".
    const NAME: &'static str;
    /// The units it may be written in. The first is the one used in files.
    const UNITS: &'static [Unit];
    /// From the inside (SI) unit; the caller vouches that the value is finite.
    fn from_si(value: f64) -> Self;
    /// To the inside (SI) unit.
    fn si(self) -> f64;
    /// Written in `unit`, as a bare number.
    fn in_unit(self, unit: &Unit) -> f64 {
        (self.si() - unit.offset) / unit.scale
    }
}

/// A value that was not a number, or not a finite one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not a finite number")]
pub struct NotFinite;

/// Defines a linear quantity stored in SI: newtype, `from_…`/`as_…` pairs, arithmetic, text form.
///
/// `from_…` is for values known to be finite (debug builds check); `try_from_…` is the door for the rest.
macro_rules! quantity {
    (
        $(#[$meta:meta])* $name:ident, $said:literal, $si_from:ident / $si_as:ident,
        units: [ $( ($symbol:literal, [$($alias:literal),*], $scale:expr) ),+ $(,)? ],
        doors: [ $( $from:ident / $try_from:ident / $as:ident = $door_scale:expr ),* $(,)? ]
    ) => {
        $(#[$meta])*
        #[derive(Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        impl $crate::units::Quantity for $name {
            const NAME: &'static str = $said;
            const UNITS: &'static [$crate::units::Unit] = &[
                $( $crate::units::Unit { symbol: $symbol, aliases: &[$($alias),*], scale: $scale, offset: 0.0 } ),+
            ];
            fn from_si(value: f64) -> Self { Self::$si_from(value) }
            fn si(self) -> f64 { self.0 }
        }

        #[allow(missing_docs)]
        impl $name {
            pub const ZERO: Self = Self(0.0);
            pub const fn $si_from(value: f64) -> Self {
                debug_assert!(value.is_finite());
                Self(value)
            }
            pub const fn $si_as(self) -> f64 { self.0 }
            $(
                pub const fn $from(value: f64) -> Self { Self::$si_from(value * $door_scale) }
                pub const fn $try_from(value: f64) -> Result<Self, $crate::units::NotFinite> {
                    let inside = value * $door_scale;
                    if inside.is_finite() { Ok(Self(inside)) } else { Err($crate::units::NotFinite) }
                }
                pub const fn $as(self) -> f64 { self.0 / $door_scale }
            )*
            #[must_use]
            pub const fn abs(self) -> Self { Self(self.0.abs()) }
            #[must_use]
            pub const fn min(self, other: Self) -> Self { if self.0 <= other.0 { self } else { other } }
            #[must_use]
            pub const fn max(self, other: Self) -> Self { if self.0 >= other.0 { self } else { other } }
            #[must_use]
            pub const fn clamp(self, low: Self, high: Self) -> Self { self.max(low).min(high) }
            pub fn total_cmp(&self, other: &Self) -> core::cmp::Ordering { self.0.total_cmp(&other.0) }
        }

        impl core::ops::Add for $name { type Output = Self; fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl core::ops::Sub for $name { type Output = Self; fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl core::ops::AddAssign for $name { fn add_assign(&mut self, o: Self) { self.0 += o.0; } }
        impl core::ops::SubAssign for $name { fn sub_assign(&mut self, o: Self) { self.0 -= o.0; } }
        impl core::ops::Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl core::ops::Mul<f64> for $name { type Output = Self; fn mul(self, k: f64) -> Self { Self(self.0 * k) } }
        impl core::ops::Mul<$name> for f64 { type Output = $name; fn mul(self, q: $name) -> $name { $name(self * q.0) } }
        impl core::ops::Div<f64> for $name { type Output = Self; fn div(self, k: f64) -> Self { Self(self.0 / k) } }
        impl core::ops::Div for $name { type Output = f64; fn div(self, o: Self) -> f64 { self.0 / o.0 } }
        impl core::iter::Sum for $name { fn sum<I: Iterator<Item = Self>>(it: I) -> Self { Self(it.map(|q| q.0).sum()) } }

        $crate::units::define::text_forms!($name);
    };
}

/// Debug, `FromStr`, and serde as text with the unit beside the number.
macro_rules! text_forms {
    ($name:ident) => {
        impl core::fmt::Debug for $name {
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                f.write_str(&$crate::units::parse::to_text(*self))
            }
        }
        impl core::str::FromStr for $name {
            type Err = $crate::units::QuantityError;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                $crate::units::parse::parse(text)
            }
        }
        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.serialize_str(&$crate::units::parse::to_text(*self))
            }
        }
        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let text = <std::borrow::Cow<'de, str> as serde::Deserialize<'de>>::deserialize(d)?;
                $crate::units::parse::parse(&text).map_err(serde::de::Error::custom)
            }
        }
    };
}

pub(crate) use quantity;
pub(crate) use text_forms;

//! `leanbest size`.

use crate::cli::{Console, Exit, Fault, layout, typed};
use crate::physics::air::MoistAir;
use crate::rules::RuleBook;
use crate::rules::sizing::{Rating, Sizing, size};
use crate::units::show::Shown;
use crate::units::{Density, EngineSpeed, Fraction, PressureDifference, Volume, VolumeFlow};
use serde_json::json;

/// Arguments of `size`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Displacement of all cylinders, such as 350cid or 4.2L
    #[arg(long, value_name = "VOLUME")]
    displacement: Volume,
    /// Highest speed really used
    #[arg(long, value_name = "RPM", value_parser = typed::rpm)]
    rpm: EngineSpeed,
    /// Volumetric efficiency at that speed, such as 85%
    #[arg(long, value_name = "SHARE")]
    ve: Option<Fraction>,
    /// Rated flow of a carburetor, such as 600cfm
    #[arg(long, value_name = "FLOW", requires = "at")]
    rated: Option<VolumeFlow>,
    /// Depression it was rated at, such as 1.5inHg
    #[arg(long, value_name = "DEPRESSION", requires = "rated")]
    at: Option<PressureDifference>,
    /// Air it breathes: "pressure, temperature, humidity" (left out: standard)
    #[arg(long, value_name = "P,T,RH", value_parser = typed::air)]
    air: Option<MoistAir>,
}

/// Runs `size`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let book = RuleBook::common();
    let efficiency = args.ve.unwrap_or(book.sizing.default_efficiency);
    let rating = args.rated.zip(args.at).map(|(flow, at)| Rating { flow, at });
    let standard = Density::from_kg_m3(crate::physics::atmosphere::SEA_LEVEL_KG_M3);
    let density = args.air.map_or(standard, |a| a.density());
    let sized = size(args.displacement, args.rpm, efficiency, rating, density, &book)
        .map_err(|e| Fault::input(e.to_string()))?;
    if console.json {
        console.answer_json(&as_json(&sized, efficiency, density))?;
    } else {
        as_text(&sized, args, efficiency, rating, &book, console)?;
    }
    Ok(Exit::Done)
}

fn as_json(s: &Sizing, efficiency: Fraction, density: Density) -> serde_json::Value {
    json!({
        "airflow_cfm": s.air.as_cfm(),
        "airflow_kg_per_h": s.air_mass.as_kg_h(),
        "depression_at_rating_inhg": s.depression.map(PressureDifference::as_inhg),
        "rating_at_1_5_inhg_cfm": s.rating_at_1_5_inhg.as_cfm(),
        "rating_at_3_0_inhg_cfm": s.rating_at_3_0_inhg.as_cfm(),
        "volumetric_efficiency_pct": efficiency.as_percent(),
        "air_density_kg_m3": density.as_kg_m3(),
        "verdict": s.verdict,
    })
}

fn as_text(
    s: &Sizing,
    args: &Args,
    efficiency: Fraction,
    rating: Option<Rating>,
    book: &RuleBook,
    console: &mut Console,
) -> Result<(), Fault> {
    let us = console.system;
    console.say(&format!(
        "{} at {}, volumetric efficiency {}",
        args.displacement.show(us),
        args.rpm.show(us),
        efficiency.show(us)
    ))?;
    console.say("")?;
    let mut rows = vec![("air", format!("{} ({})", s.air.show(us), s.air_mass.show(us)))];
    if let Some(r) = rating {
        rows.push(("carburetor", format!("{} at {}", r.flow.show(us), r.at.show(us))));
        rows.push(("  at 1.5 inHg", s.rating_at_1_5_inhg.show(us)));
        rows.push(("  at 3.0 inHg", s.rating_at_3_0_inhg.show(us)));
        if let (Some(d), Some(v)) = (s.depression, &s.verdict) {
            rows.push(("full-throttle vacuum", format!("{} to expect: {v}", d.show(us))));
        }
    } else {
        let left = PressureDifference::from_inhg(1.5);
        let what =
            |rating: VolumeFlow| format!("{} leaves {} at full throttle", rating.show(us), left.show(us));
        rows.push(("rated at 1.5 inHg", what(s.rating_at_1_5_inhg)));
        rows.push(("rated at 3.0 inHg", what(s.rating_at_3_0_inhg)));
    }
    layout::facts(console, &rows)?;
    let proof = |inhg| PressureDifference::from_inhg(inhg).show(us);
    let mut why = vec![
        "One intake stroke in two turns: in3 x rpm x VE / 3456 in cfm.".to_owned(),
        "Ratings compare by the square law (x 0.707 from 3.0 to 1.5 inHg): four barrels are rated at 1.5, one and two at \
         3.0 (industry practice)."
            .to_owned(),
        format!(
            "Vacuum at full throttle and the highest speed is the proof: to {} race, to {} street, to {} work; more is too \
             small (common practice).",
            proof(0.5),
            proof(1.5),
            proof(2.0)
        ),
    ];
    if args.ve.is_none() {
        let tunes = book
            .sizing
            .efficiency
            .iter()
            .map(|e| format!("{} {} to {}", e.tune, e.low.show(us), e.high.show(us)));
        why.push(format!(
            "Volumetric efficiency was not given: {} is taken. Usual: {} (common practice).",
            efficiency.show(us),
            tunes.collect::<Vec<_>>().join(", ")
        ));
    }
    Ok(layout::sentences(console, "Why", &why)?)
}

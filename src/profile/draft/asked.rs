//! What is asked of a new setup, in order, in US units.

/// How an asked answer is written.
#[derive(Clone, Copy)]
pub(super) enum Asked {
    Text,
    Number,
    Words(&'static [&'static str]),
    /// In the unit that stands there, or this one.
    In(&'static str),
}

pub(super) struct Ask {
    pub(super) key: &'static str,
    pub(super) say: &'static str,
    pub(super) form: Asked,
    pub(super) optional: bool,
}

const fn ask(key: &'static str, say: &'static str, form: Asked) -> Ask {
    Ask { key, say, form, optional: false }
}

const fn maybe(key: &'static str, say: &'static str, form: Asked) -> Ask {
    Ask { key, say, form, optional: true }
}

/// Counts before what is measured against them, large bores before the small ones in them.
pub(super) const ASKED: &[Ask] = &[
    ask("name", "What do you call this job", Asked::Text),
    ask("use", "What is the engine for", Asked::Words(&["street", "race", "marine", "tow", "farm"])),
    ask("engine.name", "The engine: what do you call it", Asked::Text),
    ask("engine.cylinders", "Cylinders", Asked::Number),
    ask("engine.displacement", "Displacement, all cylinders", Asked::In("L")),
    maybe("engine.compression", "Compression ratio", Asked::Number),
    maybe("engine.cam.intake_duration", "Cam: intake duration at 0.050 in", Asked::In("deg")),
    maybe("engine.cam.exhaust_duration", "Cam: exhaust duration at 0.050 in", Asked::In("deg")),
    maybe("engine.cam.separation", "Cam: lobe separation", Asked::In("deg")),
    ask("engine.cooling", "Cooling", Asked::Words(&["water", "air"])),
    ask(
        "engine.drive",
        "What it drives through (loose: its converter stalls high)",
        Asked::Words(&["manual", "automatic", "loose-automatic", "propeller", "none"]),
    ),
    ask("engine.plenum", "Intake", Asked::Words(&["dual-plane", "single-plane", "individual-runner"])),
    ask("engine.rated_speed", "Highest speed really used", Asked::In("rpm")),
    ask("engine.volumetric_efficiency", "Volumetric efficiency there, throttle wide open", Asked::In("%")),
    maybe("engine.idle_speed", "Curb idle its maker or builder names", Asked::In("rpm")),
    maybe("engine.idle_timing", "Ignition timing at idle, before top dead centre", Asked::In("deg")),
    ask("carburetor.name", "The carburetor: what do you call it", Asked::Text),
    ask("carburetor.rated_flow", "Rated air flow", Asked::In("cfm")),
    ask("carburetor.rated_depression", "Rated at a depression of", Asked::In("inHg")),
    ask("carburetor.idle.screws", "Mixture screws", Asked::Number),
    ask(
        "carburetor.idle.screws_meter",
        "What the screws meter (fuel: out is richer; air: out is leaner)",
        Asked::Words(&["fuel", "air"]),
    ),
    ask("carburetor.idle.turns_out", "Turns out from lightly seated", Asked::Number),
    ask("carburetor.idle.feed_restriction", "Idle feed restriction", Asked::In("in")),
    ask("carburetor.idle.air_bleed", "Idle air bleed", Asked::In("in")),
    ask("carburetor.main.*.venturi", "venturi", Asked::In("in")),
    ask("carburetor.main.*.jet", "main jet", Asked::In("in")),
    ask("carburetor.main.*.air_bleed", "main air bleed", Asked::In("in")),
    maybe("carburetor.enrichment.opens_below", "Enrichment (power) valve opens below", Asked::In("inHg")),
    maybe("carburetor.enrichment.channel_restriction", "Enrichment channel restriction", Asked::In("in")),
    maybe("carburetor.pump.nozzle", "Accelerator pump nozzle", Asked::In("in")),
    ask("instruments.vacuum_mark", "Vacuum gauge: from one mark to the next", Asked::In("inHg")),
    ask("instruments.speed_step", "Tachometer: smallest step", Asked::In("rpm")),
];

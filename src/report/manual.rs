//! The manual by topic: the steps, the why behind each rule, how to write one's own files, the cautions. Its words are
//! those of the things themselves: a step's questions, a rule's documentation and table, the cautions as they are said.

mod figures;
mod layout;

use crate::procedure::Job;
use crate::procedure::{Asked, Step, outline};
use crate::rules::cautions::{self, Caution, CautionAt};
use crate::rules::which_part::FaultShape;
use crate::rules::why::{self, Why};
use crate::units::System;

/// Something the manual has a page on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Topic {
    /// What is typed.
    pub name: &'static str,
    /// What the page is headed with.
    pub title: &'static str,
    what: What,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    Written(&'static str),
    AllSteps,
    Step(Step),
    Rule(Why),
    Safety,
}

/// Topics that belong together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chapter {
    /// Its heading.
    pub title: &'static str,
    /// What is in it.
    pub topics: Vec<Topic>,
}

macro_rules! written {
    ($name:literal, $title:literal) => {
        Topic {
            name: $name,
            title: $title,
            what: What::Written(include_str!(concat!("manual/", $name, ".md"))),
        }
    };
}

/// Everything there is a page on.
pub fn chapters() -> Vec<Chapter> {
    let steps = Step::ALL.map(|step| Topic { name: step.name(), title: step.said(), what: What::Step(step) });
    let rules = why::ALL.iter().map(|w| Topic { name: w.topic, title: w.title, what: What::Rule(*w) });
    vec![
        Chapter {
            title: "Before the engine",
            topics: vec![
                Topic { name: "safety", title: "What can hurt, and its sources", what: What::Safety },
                written!("keys", "Keys at a question"),
                written!("session", "The session file"),
            ],
        },
        Chapter {
            title: "Yours",
            topics: vec![
                written!("your-setup", "Your setup"),
                written!("your-carburetor", "Your carburetor"),
                written!("your-logger", "Your logger"),
                written!("your-rules", "Your rules"),
            ],
        },
        Chapter {
            title: "Steps of the guide",
            topics: [Topic { name: "steps", title: "All of them, in order", what: What::AllSteps }]
                .into_iter()
                .chain(steps)
                .collect(),
        },
        Chapter { title: "Why, rule by rule", topics: rules.collect() },
    ]
}

/// The topic of this name.
pub fn topic(name: &str) -> Option<Topic> {
    chapters().into_iter().flat_map(|c| c.topics).find(|t| t.name == name)
}

/// The topics whose name or title has something of `word`, for one who mistyped.
pub fn near(word: &str) -> Vec<Topic> {
    let word = word.to_lowercase();
    let like = |t: &Topic| {
        t.name.split('-').chain(t.title.split(' ')).any(|part| {
            let part = part.to_lowercase();
            part.len() > 2 && (word.contains(&part) || part.contains(&word) || alike(&part, &word))
        })
    };
    chapters().into_iter().flat_map(|c| c.topics).filter(like).collect()
}

/// Words of nearly one length that begin alike and share most of their letters.
fn alike(one: &str, other: &str) -> bool {
    let begins = |word: &str| word.chars().take(2).collect::<String>();
    let shared = one.chars().filter(|c| other.contains(*c)).count();
    one.len().abs_diff(other.len()) <= 2 && begins(one) == begins(other) && 4 * shared >= 3 * one.len()
}

/// The list of topics, under their chapters, in lines of at most `width` columns.
pub fn contents(width: usize) -> Vec<String> {
    let chapters = chapters();
    let longest = chapters.iter().flat_map(|c| &c.topics).map(|t| t.name.len()).max().unwrap_or(0);
    let mut lines = Vec::new();
    for chapter in &chapters {
        lines.extend([String::new(), format!("{}:", chapter.title)]);
        for topic in &chapter.topics {
            let line = format!("  {:longest$}  {}", topic.name, topic.title);
            lines.push(line.chars().take(width).collect());
        }
    }
    lines
}

/// The page of a topic, in lines of at most `width` columns. `job` is an example: what its setup has is what the steps
/// ask for.
pub fn page(topic: &Topic, job: &Job, system: System, width: usize) -> Vec<String> {
    let mut page = layout::Page::new(topic.title, width);
    match topic.what {
        What::Written(text) => page.text(text),
        What::AllSteps => all_steps(&mut page),
        What::Step(step) => one_step(&mut page, step, job, system),
        What::Rule(why) => rule(&mut page, &why),
        What::Safety => safety(&mut page),
    }
    page.lines()
}

fn all_steps(page: &mut layout::Page) {
    page.text("Each says what it needs, and what to do if it is missing. A page on one: leanbest help NAME.");
    for step in Step::ALL {
        let words = format!("{} ({}). {}", step.said(), step.name(), step.purpose());
        page.item(&format!("{:2}. ", step.number()), &words);
    }
}

/// The rules a step stands on, by topic.
fn rules_of(step: Step) -> &'static [&'static str] {
    match step {
        Step::Cautions | Step::Close => &["safety"],
        Step::Setup => &["your-setup", "sizing", "altitude"],
        Step::BeforeFirstStart => &["start-turns"],
        Step::WarmUp => &["needle"],
        Step::CurbIdle => &["idle-aim"],
        Step::Mixture => &["screw-search", "finish", "witness"],
        Step::InGear => &["gear-limits"],
        Step::EnrichmentCheck => &["enrichment"],
        Step::Logging => &["your-logger", "targets", "tip-in"],
        Step::Advice => &["targets", "limits", "which-part"],
    }
}

/// Where a step's own cautions are said.
fn cautions_of(step: Step) -> Vec<&'static Caution> {
    let places: &[CautionAt] = match step {
        Step::Cautions => return cautions::at(CautionAt::Start),
        Step::BeforeFirstStart => &[CautionAt::BeforeFirstStart],
        Step::WarmUp | Step::CurbIdle | Step::Mixture => &[CautionAt::RunningEngine],
        Step::InGear => &[CautionAt::InGear],
        Step::Logging => &[CautionAt::Road, CautionAt::Dyno],
        Step::Advice => &[CautionAt::FuelOpen],
        Step::Close => &[CautionAt::Close],
        Step::Setup | Step::EnrichmentCheck => &[],
    };
    let mut all: Vec<&Caution> = places.iter().flat_map(|p| cautions::at(*p)).collect();
    all.dedup_by_key(|c| c.text);
    all
}

fn one_step(page: &mut layout::Page, step: Step, job: &Job, system: System) {
    page.text(&format!("Step {} of {}. {}", step.number(), Step::ALL.len(), step.purpose()));
    let asked = if step == Step::Cautions { Vec::new() } else { outline(step, job, system) };
    if !asked.is_empty() {
        page.heading("It asks");
        for Asked { say, why } in asked {
            page.item("- ", &say);
            page.item("    ", &why);
        }
    }
    let cautions = cautions_of(step);
    if !cautions.is_empty() {
        page.heading("Take care");
        for caution in cautions {
            page.item("- ", caution.text);
        }
    }
    page.heading("See also");
    for name in rules_of(step) {
        let title = topic(name).map_or("", |t| t.title);
        page.item("  ", &format!("leanbest help {name}: {title}"));
    }
}

fn rule(page: &mut layout::Page, why: &Why) {
    page.text(why.text);
    if why.topic == "which-part" {
        page.heading("The shape of a fault, and the part");
        for shape in FaultShape::ALL {
            let remedy = shape.remedy();
            let first = remedy.first.map(|f| format!(" Look first at: {f}.")).unwrap_or_default();
            page.item("- ", &format!("{}: {} ({}).{first}", shape.said(), remedy.text, remedy.why));
        }
    }
    for table in why.tables {
        page.heading(&format!("Its figures: [{table}] of the rules"));
        for line in figures::table(table) {
            match line {
                figures::Line::Remark(text) => page.text(&text),
                figures::Line::Row(text) => page.as_it_is(&text),
                figures::Line::Fact(name, value) => page.item(&format!("  {name}: "), &value),
            }
        }
    }
    let steps: Vec<&str> =
        Step::ALL.iter().filter(|s| rules_of(**s).contains(&why.topic)).map(|s| s.name()).collect();
    page.heading("See also");
    for step in steps {
        page.item("  ", &format!("leanbest help {step}: the step that uses it"));
    }
    page.item("  ", "leanbest help your-rules: figures of your own");
}

fn safety(page: &mut layout::Page) {
    page.text("Local codes and licensed practice come first.");
    for caution in &cautions::ALL {
        let figure = caution.figure.map(|f| format!(" {f}")).unwrap_or_default();
        page.item("- ", &format!("{}{figure} ({}.)", caution.text, caution.source));
    }
    page.heading("If something goes wrong");
    for (n, line) in cautions::EMERGENCY.iter().enumerate() {
        page.item(&format!("{}. ", n + 1), line);
    }
}

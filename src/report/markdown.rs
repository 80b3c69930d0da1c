//! A document as Markdown: words and tables; pictures are told in words.

use super::document::{Block, Document, Span, Table, Text};
use super::sink::Markdown;
use std::fmt::Write;

/// The document.
pub fn page(document: &Document) -> String {
    let mut out = format!("# {}: {}\n\n{}\n", document.kind, words(&document.title), words(&document.under));
    for lead in &document.lead {
        let _ = write!(out, "\n{}\n", words(lead));
    }
    for section in &document.sections {
        let _ = write!(out, "\n## {}\n", section.heading);
        for block in &section.blocks {
            out.push('\n');
            one_block(&mut out, block);
        }
    }
    out.push_str("\n---\n");
    for line in &document.foot {
        let _ = write!(out, "\n{}\n", words(line));
    }
    out
}

/// The program's own words hold no markup but what it means; a person's hold none at all.
fn words(text: &Text) -> String {
    let one = |span: &Span| match span {
        Span::Ours(ours) => ours.clone(),
        Span::Aside(aside) => format!(" ({aside})"),
        Span::Theirs(theirs) => Markdown(theirs).to_string(),
    };
    text.0.iter().map(one).collect()
}

fn one_block(out: &mut String, block: &Block) {
    let _ = match block {
        Block::Paragraph(text) => writeln!(out, "{}", words(text)),
        Block::Facts(facts) => {
            facts.iter().try_for_each(|(name, what)| writeln!(out, "- {name}: {}", words(what)))
        }
        Block::List(items) => items.iter().try_for_each(|item| writeln!(out, "- {}", words(item))),
        Block::Steps(steps) => {
            let each = |(i, s): (usize, &super::document::Step)| {
                writeln!(out, "{}. **{}** {}", i + 1, words(&s.what), words(&s.why))
            };
            steps.iter().enumerate().try_for_each(each)
        }
        Block::Table(table) => one_table(out, table),
        Block::Pictures(pictures) => pictures.iter().try_for_each(|p| {
            let (title, says) = p.words();
            writeln!(out, "- {title}: {says}")
        }),
        Block::Fields(fields) => {
            fields.iter().try_for_each(|f| writeln!(out, "{f}: ______________________________\n"))
        }
    };
}

fn one_table(out: &mut String, table: &Table) -> std::fmt::Result {
    writeln!(out, "| {} |", table.heads.join(" | "))?;
    let rule = |i| if table.figures.contains(&i) { "---:" } else { "---" };
    writeln!(out, "| {} |", (0..table.heads.len()).map(rule).collect::<Vec<_>>().join(" | "))?;
    for row in &table.rows {
        writeln!(out, "| {} |", row.iter().map(words).collect::<Vec<_>>().join(" | "))?;
    }
    Ok(())
}

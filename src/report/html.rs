//! A document as one page: no script, nothing fetched, light and dark, a phone, a desk and two sides of paper.

use super::document::{Block, Document, Section, Span, Step, Table, Text, Width};
use super::lines::kept_together;
use super::sink::Html;
use super::svg;
use maud::{DOCTYPE, Markup, PreEscaped, html};

const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

const STYLE: &str = "*{box-sizing:border-box}\
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 var(--face);font-variant-numeric:tabular-nums;\
-webkit-text-size-adjust:100%}\
main{max-width:62rem;margin:0 auto;padding:2.5rem 1.25rem 3rem}\
header{margin-bottom:2.2rem}header p{margin:0}.kind{color:var(--accent);font-weight:600;letter-spacing:.02em}\
h1{font-size:2.1rem;line-height:1.15;font-weight:650;margin:.1rem 0 .3rem;overflow-wrap:anywhere}.under{color:var(--quiet)}\
.lead{margin-top:1rem!important;font-size:1.15rem;max-width:40em}.lead+.lead{margin-top:.35rem!important}\
h2{font-size:1.02rem;line-height:1.3;font-weight:650;margin:0 0 .5rem;break-after:avoid}\
.sections>*{margin-bottom:2.1em}.two{columns:2;column-gap:2.6em}.two>section{break-inside:avoid;padding-bottom:1.6em}.two>section:last-child{padding-bottom:0}.two th,.two td{padding-right:.6rem}section{min-width:0;break-inside:auto}\
p{margin:0 0 .6rem;max-width:46em}section>:last-child{margin-bottom:0}\
dl{display:grid;grid-template-columns:max-content 1fr;gap:.18rem 1.1rem;margin:0 0 .6rem}dt{color:var(--quiet)}dd{margin:0;min-width:0;overflow-wrap:anywhere}\
.over{overflow-x:auto;margin-bottom:.6rem}.over:focus-visible{outline:2px solid var(--accent)}table{border-collapse:collapse;width:100%}caption{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}\
th,td{padding:.22rem .9rem .22rem 0;text-align:left;vertical-align:baseline;font-weight:400}thead th{color:var(--quiet)}\
tr>:last-child{padding-right:0}.n{text-align:right}td.n{white-space:nowrap}.two td.w{white-space:normal}\
ul,ol{margin:0 0 .6rem;padding-left:1.2rem}li{margin-bottom:.3rem;overflow-wrap:anywhere}li::marker{color:var(--quiet)}li>b{font-weight:600;display:block}\
.pictures{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,20rem),1fr));gap:1.4rem 2.2rem}\
figure{margin:0;break-inside:avoid}figure svg{display:block;width:100%;max-width:34rem;height:auto;overflow:visible}figcaption{font-size:.92em;margin-top:.3em}figcaption b{font-weight:600;display:block}figcaption span{color:var(--quiet)}\
.fields{display:grid;grid-template-columns:repeat(auto-fit,minmax(11rem,1fr));gap:2.4rem 1.6rem;padding-top:2rem}.fields p{border-top:1px solid var(--ink);padding-top:.25rem;margin:0;color:var(--quiet);font-size:.88em}\
.small{font-size:.88em}small{color:var(--quiet);font-size:.92em}footer{margin-top:2.2rem;color:var(--quiet);font-size:.85em}footer p{margin:0 0 .2rem;overflow-wrap:anywhere;max-width:none}\
@media screen and (max-width:56rem){.two{columns:1}}\
@media(max-width:46rem){main{padding:1.5rem 1rem 2.5rem}h1{font-size:1.7rem}tbody th small{display:block}th,td{padding-right:.7rem}td.w,.two td.w{white-space:normal}}\
@media screen and (max-width:30rem){table{font-size:.88em;line-height:1.35}th,td,.two th,.two td{padding-right:.5rem}}\
@page{size:auto;margin:10mm 13mm}\
@media print{body{font-size:8pt;line-height:1.3}main{max-width:none;padding:0}header{margin-bottom:3.2mm}h1{font-size:17pt;margin:0}.lead{font-size:9pt;max-width:none;margin-top:1.6mm!important}\
.lead+.lead{margin-top:.6mm!important}h2{font-size:9.4pt;margin-bottom:1mm}.sections>*{margin-bottom:2.4mm}.two{columns:2;column-gap:8mm}.two>section{padding-bottom:2.2mm}p{margin-bottom:1mm;max-width:none}dl{gap:0 3.5mm;margin-bottom:1mm}.over{overflow:visible;margin-bottom:1mm}\
th,td,.two th,.two td{padding:.15mm 3.5mm .15mm 0}ul,ol{margin-bottom:1mm;padding-left:4mm}li{margin-bottom:.4mm}.small{font-size:6.8pt;line-height:1.22}.pictures{grid-template-columns:1fr 1fr;gap:2mm 8mm}.fields{padding-top:7mm;gap:7mm 6mm;grid-template-columns:repeat(4,1fr)}\
.dense{font-size:7.6pt}.dense .pictures{gap:1.5mm 8mm}.dense .sections>*{margin-bottom:1.8mm}.dense figure svg{width:70%}.dense li{margin-bottom:.2mm}.dense th,.dense td{padding-top:0;padding-bottom:0}.dense .fields{padding-top:5mm}\
footer{margin-top:3mm;font-size:7pt}tr,figure,li,.fields{break-inside:avoid}.screen{display:none}}";

/// The page.
pub fn page(document: &Document) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="referrer" content="no-referrer";
                meta name="color-scheme" content="light dark";
                title { (Html(&document.kind)) ": " (Html(&document.title.plain())) }
                style { (PreEscaped(svg::COLOURS)) (PreEscaped(STYLE)) (PreEscaped(svg::STYLE)) }
            }
            body {
                main class=[document.dense.then_some("dense")] {
                    header {
                        p class="kind" { (Html(&document.kind)) }
                        h1 { (words(&document.title)) }
                        p class="under" { (words(&document.under)) }
                        @for lead in &document.lead { p class="lead" { (words(lead)) } }
                    }
                    div class="sections" {
                        @for group in grouped(&document.sections) {
                            @if group.len() > 1 { div class="two" { @for section in group { (one_section(section)) } } }
                            @else { @for section in group { (one_section(section)) } }
                        }
                    }
                    footer { @for line in &document.foot { p { (words(line)) } } }
                }
            }
        }
    }
    .into_string()
}

/// Every person's word stands in its own `bdi`: the direction it is written in stays within it.
fn words(text: &Text) -> Markup {
    html! {
        @for span in &text.0 {
            @match span {
                Span::Ours(ours) => (Html(&kept_together(ours))),
                Span::Aside(aside) => { " " small { (Html(&kept_together(aside))) } }
                Span::Theirs(theirs) => bdi { (Html(theirs)) },
            }
        }
    }
}

/// Sections that need half a page stand together, in two columns where there is room.
fn grouped(sections: &[Section]) -> impl Iterator<Item = &[Section]> {
    sections.chunk_by(|a, b| a.width == Width::Half && b.width == Width::Half)
}

fn class(section: &Section) -> Option<&'static str> {
    if section.small { Some("small") } else { section.screen_only.then_some("screen") }
}

fn one_section(section: &Section) -> Markup {
    html! {
        section class=[class(section)] {
            h2 { (Html(&section.heading)) }
            @for block in &section.blocks { (one_block(block)) }
        }
    }
}

fn one_block(block: &Block) -> Markup {
    match block {
        Block::Paragraph(text) => html! { p { (words(text)) } },
        Block::Facts(facts) => {
            html! { dl { @for (name, what) in facts { dt { (Html(name)) } dd { (words(what)) } } } }
        }
        Block::Table(table) => one_table(table),
        Block::List(items) => html! { ul { @for item in items { li { (words(item)) } } } },
        Block::Steps(steps) => {
            html! { ol { @for Step { what, why } in steps { li { b { (words(what)) } (words(why)) } } } }
        }
        Block::Pictures(pictures) => html! {
            div class="pictures" {
                @for picture in pictures {
                    @let (title, says) = picture.words();
                    figure { (svg::inline(picture)) figcaption { b { (Html(title)) } span { (Html(&kept_together(says))) } } }
                }
            }
        },
        Block::Fields(fields) => {
            html! { div class="fields" { @for field in fields { p { (Html(field)) } } } }
        }
    }
}

/// Letters of a figure that stays on one line; a range or an interval that is longer may wrap where room is short.
const ON_ONE_LINE: usize = 12;

/// A table wraps to a phone's width; one that still is wider scrolls by itself, by keyboard as well.
fn one_table(table: &Table) -> Markup {
    let class = |column: usize| table.figures.contains(&column).then_some("n");
    let cell_class = |column: usize, cell: &Text| {
        let long = cell.plain().chars().count() > ON_ONE_LINE;
        class(column).map(|n| if long { "n w" } else { n })
    };
    html! {
        div class="over" tabindex="0" role="group" aria-label=(Html(&table.caption)) {
            table {
                caption { (Html(&table.caption)) }
                thead { tr { @for (i, head) in table.heads.iter().enumerate() { th scope="col" class=[class(i)] { (Html(head)) } } } }
                tbody {
                    @for row in &table.rows {
                        tr {
                            @for (i, cell) in row.iter().enumerate() {
                                @if i == 0 { th scope="row" class=[class(0)] { (words(cell)) } }
                                @else { td class=[cell_class(i, cell)] { (words(cell)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

//! The sheet before a checker of accessibility, in a headless browser. Wants chromium, and npm to fetch the checker
//! once; without them it says that it was skipped, and passes.

#![cfg(test)]
#![expect(clippy::print_stderr, reason = "a test that was skipped says so")]

use std::path::{Path, PathBuf};
use std::process::Command;

/// The checker, and the version it was tried with.
const CHECKER: &str = "axe-core@4.10.3";

/// The first of these programs that is on the path.
fn program(names: &[&str]) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path).flat_map(|d| names.iter().map(move |n| d.join(n))).find(|p| p.is_file())
}

/// The text of the checker: as fetched before, or fetched now.
fn checker() -> Option<String> {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("accessible");
    let file = folder.join("node_modules/axe-core/axe.min.js");
    if !file.is_file() {
        std::fs::create_dir_all(&folder).ok()?;
        let mut npm = Command::new(program(&["npm"])?);
        npm.args(["install", "--silent", "--no-audit", "--no-fund", "--prefix"]).arg(&folder).arg(CHECKER);
        npm.output().ok()?;
    }
    std::fs::read_to_string(file).ok()
}

/// What the checker finds on a page, in a window of this width: impact, rule, and where.
fn faults(browser: &Path, checker: &str, page: &str, width: u32) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("checked.html");
    // The page allows no script at all; the copy that is checked has to.
    let policy = page.find("<meta http-equiv=\"Content-Security-Policy\"").expect("a policy");
    let end = policy + page[policy..].find('>').expect("its end") + 1;
    let run = "axe.run().then(r => { const p = document.createElement('pre'); p.id = 'found'; \
               p.textContent = 'BEGIN' + r.passes.length + '|' + r.violations.map(v => [v.impact, v.id, \
               v.nodes.map(n => n.target.join(' ')).slice(0, 3).join(' + ')].join(' ')).join('|') + 'END'; \
               document.body.append(p); });";
    let script =
        format!("<script>{checker}</script><script>addEventListener('load', () => {{ {run} }});</script>");
    let copy =
        format!("{}{}", &page[..policy], &page[end..]).replacen("</head>", &format!("{script}</head>"), 1);
    std::fs::write(&file, copy).expect("written");
    let out = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--dump-dom"])
        .args([
            "--disable-background-networking",
            "--disable-component-update",
            "--virtual-time-budget=20000",
        ])
        .arg(format!("--window-size={width},1600"))
        .arg(format!("--user-data-dir={}", folder.path().join("profile").display()))
        .arg(format!("file://{}", file.display()))
        .output()
        .expect("the browser starts");
    let dom = String::from_utf8_lossy(&out.stdout).into_owned();
    let found = dom.rsplit_once(">BEGIN").and_then(|(_, rest)| rest.split_once("END</pre>")).map(|(f, _)| f);
    let found = found.unwrap_or_else(|| panic!("the checker did not come to its end: {}", dom.len()));
    let mut parts = found.split('|');
    let passed: u32 = parts.next().and_then(|n| n.parse().ok()).expect("how many rules passed");
    assert!(passed > 10, "only {passed} rules were looked at");
    parts.filter(|p| !p.is_empty()).map(str::to_owned).collect()
}

fn serious(faults: &[String]) -> Vec<&String> {
    faults.iter().filter(|f| f.starts_with("serious") || f.starts_with("critical")).collect()
}

#[test]
fn the_sheet_has_no_serious_fault_of_access() {
    let Some(browser) = program(&["chromium", "chromium-browser"]) else {
        eprintln!("skipped: no chromium here, so the sheet was not checked for access");
        return;
    };
    let Some(checker) = checker() else {
        eprintln!(
            "skipped: {CHECKER} is not here and npm could not fetch it, so the sheet was not checked for access"
        );
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let out = Command::new(env!("CARGO_BIN_EXE_leanbest"))
        .args(["demo", "--out", "."])
        .current_dir(folder.path())
        .env("HOME", folder.path())
        .output()
        .expect("the program runs");
    assert!(out.status.success(), "{out:?}");
    let page = std::fs::read_to_string(folder.path().join("petrel-ann.html")).expect("the sheet");
    for width in [390, 1100] {
        let found = faults(&browser, &checker, &page, width);
        assert!(serious(&found).is_empty(), "at {width}: {found:#?}");
    }
    // A page without its language, and a picture without words: the checker is not blind.
    let spoilt = page.replacen("lang=\"en\"", "", 1).replace("role=\"img\"", "role=\"img\" aria-label=\"\"");
    assert_ne!(spoilt, page);
    assert!(!serious(&faults(&browser, &checker, &spoilt, 1100)).is_empty());
}

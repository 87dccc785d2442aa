//! The report, its pictures, its headline, its bench card and its cautions say what the outcome says.
//!
//! On a synthetic outcome whose film is a formula, so that every case can be set up at will.

mod synthetic;

use evenfall_sim::film::State;
use evenfall_sim::outcome::{Outcome, StepOutcome, card, cautions, headline, report, views};
use synthetic::horn;

fn first_sentence(outcome: &Outcome) -> String {
    headline::sentences(outcome).remove(0)
}

/// An outcome with so much film everywhere, nm.
fn covered(thickness_nm: f64) -> Outcome {
    let mut outcome = horn();
    for facet in &mut outcome.parts[0].facets {
        facet.thickness_m = 1e-9 * thickness_nm;
        facet.state = State::Reached;
    }
    synthetic::judge(&mut outcome);
    outcome
}

#[test]
fn a_met_headline_names_share_area_and_want() {
    let outcome = covered(120.0);
    let area = outcome.summary.parts[0].area_mm2;
    let text = first_sentence(&outcome);
    assert!(
        text.starts_with("100 % of 22 891 mm² reaches 100 nm"),
        "{text}"
    );
    assert!((area - 22_891.0).abs() < 0.5, "{area}");
    assert!(
        text.contains("98 % is wanted") && !text.contains("nothing was seen"),
        "{text}"
    );
}

#[test]
fn a_missed_headline_names_what_is_bare() {
    let outcome = horn();
    let text = first_sentence(&outcome);
    assert!(text.contains("but 98 % is wanted"), "{text}");
    assert!(
        text.contains("nothing was seen to arrive") && text.contains("proved out of reach"),
        "{text}"
    );
}

#[test]
fn a_headline_too_close_to_call_says_so_and_keeps_the_shares_apart() {
    let mut outcome = horn();
    let film = outcome.summary.film.as_mut().unwrap();
    (film.reached_fraction, film.reached_stderr) = (0.97998, 0.002);
    let text = first_sentence(&outcome);
    assert!(text.starts_with("97.998 %"), "{text}");
    assert!(
        text.contains("too close to the wanted 98 % to call") && text.contains("0.20 points"),
        "{text}"
    );
}

#[test]
fn a_headline_without_a_want_gives_no_verdict() {
    let mut outcome = horn();
    outcome.summary.film = None;
    let text = first_sentence(&outcome);
    assert!(
        text.contains("gets film") && text.contains("no verdict"),
        "{text}"
    );
    assert!(!text.contains("reaches"), "{text}");
}

#[test]
fn an_uncalibrated_rate_is_said_and_a_calibrated_one_is_not() {
    let mut outcome = horn();
    let says = |o: &Outcome| {
        headline::sentences(o)
            .iter()
            .any(|s| s.contains("factor of 2"))
    };
    assert!(says(&outcome));
    outcome.summary.uncalibrated = false;
    assert!(!says(&outcome));
    outcome.summary.uncalibrated = true;
    outcome.sources[0].metal = "carbon".to_owned();
    assert!(
        headline::sentences(&outcome)
            .iter()
            .any(|s| s.contains("factor of 3"))
    );
}

#[test]
fn enough_metal_is_the_inverse_of_the_thinnest_needed_place() {
    // 80 nm everywhere against 100 nm wanted: 1.25 times the metal, two digits said.
    let outcome = covered(80.0);
    let said = report::html(&outcome, &[]);
    assert!(
        said.contains("About 1.3 times the metal") || said.contains("About 1.2 times the metal"),
        "{said}"
    );
    assert!(!said.contains("No longer run can meet it"));
    let said = report::html(&horn(), &[]);
    assert!(said.contains("No longer run can meet it"));
}

fn step(lasts_s: f64, angle_deg: f64) -> StepOutcome {
    StepOutcome {
        note: None,
        lasts_s,
        power: vec![1.0],
        shut: Vec::new(),
        open: vec![true],
        turning: vec![format!("parked at {angle_deg} deg")],
        start_rad: vec![angle_deg.to_radians()],
        turns: vec![0.0],
        vent: None,
        motion: Vec::new(),
        placed: Vec::new(),
    }
}

#[test]
fn the_card_holds_every_step_and_its_clock_adds_up() {
    let mut outcome = horn();
    outcome
        .steps
        .extend((0..8).map(|k| step(75.0, 45.0 * f64::from(k))));
    outcome.steps.push(step(600.0, 0.0));
    let page = card::markup(&outcome).into_string();
    for note in ["clean the target", "coat"] {
        assert!(page.contains(note), "{note}");
    }
    // 5 min, 12 min, eight stops of 75 s, 10 min.
    let clocks = ["0:00", "5:00", "17:00", "18:15", "25:45", "27:00", "37:00"];
    for clock in clocks {
        assert!(page.contains(&format!(">{clock}<")), "{clock} in {page}");
    }
    for angle in ["45°", "315°"] {
        assert!(page.contains(angle), "{angle}");
    }
    let ticks = page.matches("class=\"tick\"").count();
    assert_eq!(ticks, 2 + 8 + 1, "one box to tick per step");
    let rows = card::rows(&outcome.steps);
    let steps: usize = rows
        .iter()
        .map(|row| match row {
            card::Row::Stops { stops } => stops.len(),
            card::Row::One { .. } => 1,
            card::Row::Vent { .. } => 0,
        })
        .sum();
    assert_eq!(steps, outcome.steps.len());
}

#[test]
fn the_card_gives_the_turn_as_the_plan_does() {
    let page = card::markup(&horn()).into_string();
    assert!(page.contains("0°, 145°, 0°"), "{page}");
    assert!(
        page.contains("150\u{a0}mm") && page.contains("5.91\u{a0}in"),
        "{page}"
    );
}

fn keys(outcome: &Outcome) -> Vec<&'static str> {
    cautions::triggered(outcome).iter().map(|c| c.key).collect()
}

#[test]
fn cautions_follow_the_plan() {
    let mut outcome = horn();
    let found = keys(&outcome);
    for key in [
        "high-voltage",
        "turning",
        "plastic",
        "implosion",
        "suffocation",
        "oil-pump",
    ] {
        assert!(found.contains(&key), "{key} in {found:?}");
    }
    for key in [
        "hot-boat",
        "metal-fire",
        "toxic-dust",
        "stencil",
        "hand-turning",
        "opened-between",
    ] {
        assert!(!found.contains(&key), "{key} in {found:?}");
    }
    outcome.sources[0].kind = "boat".to_owned();
    outcome.sources[0].metal = "aluminium".to_owned();
    outcome.parts[0].material = Some("brass".to_owned());
    outcome.steps = vec![step(60.0, 0.0), step(60.0, 90.0)];
    outcome.steps[1].vent = Some("vent, nothing is re-posed".to_owned());
    outcome.summary.balance.mask = 1;
    let found = keys(&outcome);
    for key in [
        "hot-boat",
        "bright-melt",
        "metal-fire",
        "stencil",
        "hand-turning",
        "opened-between",
    ] {
        assert!(found.contains(&key), "{key} in {found:?}");
    }
    for key in ["high-voltage", "turning", "plastic", "toxic-dust"] {
        assert!(!found.contains(&key), "{key} in {found:?}");
    }
    outcome.sources[0].metal = "nickel".to_owned();
    assert!(keys(&outcome).contains(&"toxic-dust"));
}

/// Pixels of a picture, row by row, and its width.
fn pixels(png: &[u8]) -> (Vec<[u8; 3]>, usize, usize) {
    let mut reader = png::Decoder::new(std::io::Cursor::new(png))
        .read_info()
        .unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut bytes).unwrap();
    assert_eq!(info.color_type, png::ColorType::Rgb);
    let (width, height) = (info.width as usize, info.height as usize);
    (bytes.as_chunks::<3>().0.to_vec(), width, height)
}

/// Share of the picture's own area (not legend or title) in which dark stripes and paper alternate
/// along a row as the hatch of bare area does: a dark and a light pixel 4 pixels apart.
fn striped(png: &[u8]) -> f64 {
    let (pixels, width, height) = pixels(png);
    let grey = |p: [u8; 3]| p.iter().all(|c| c.abs_diff(p[0]) < 14);
    let dark = |p: [u8; 3]| grey(p) && p[0] < 60;
    let light = |p: [u8; 3]| grey(p) && p[0] > 150;
    let mut hits = 0;
    for y in 60..height - 60 {
        for x in 20..740 {
            let at = |dx: usize| pixels[y * width + x + dx];
            if dark(at(0)) && light(at(4)) && dark(at(8)) {
                hits += 1;
            }
        }
    }
    f64::from(hits) / (720.0 * (height - 120) as f64)
}

#[test]
fn pictures_decode_have_one_size_and_hatch_the_bare_area() {
    let drawn = views::draw_all(&horn());
    let names: Vec<&str> = drawn.iter().map(|v| v.file.as_str()).collect();
    let expected = [
        "view-setup.png",
        "view-horn-best.png",
        "view-horn-worst.png",
        "view-horn-cut.png",
        "view-source-1.png",
    ];
    assert_eq!(names, expected);
    for view in &drawn {
        let (_, width, height) = pixels(&view.png);
        assert_eq!((width, height), (900, 700), "{}", view.file);
    }
    let worst = striped(&drawn[2].png);
    assert!(worst > 0.02, "{worst} of the worst side is hatched");
    assert_eq!(
        drawn,
        views::draw_all(&horn()),
        "the same outcome gives the same pictures"
    );
}

#[test]
fn the_hatch_check_notices_a_part_without_bare_area() {
    let drawn = views::draw_all(&covered(120.0));
    for view in drawn.iter().filter(|v| v.file.starts_with("view-horn")) {
        let share = striped(&view.png);
        assert!(
            share < 0.001,
            "{}: {share} is hatched without reason",
            view.file
        );
    }
}

/// A picture of no content under a title.
fn view(title: &str) -> views::View {
    views::View {
        file: "view-a.png".to_owned(),
        title: title.to_owned(),
        caption: title.to_owned(),
        png: vec![1, 2, 3],
    }
}

/// Reads the page as markup: every tag is closed in order, void elements aside.
fn well_formed(page: &str) -> Result<(), String> {
    const VOID: [&str; 4] = ["meta", "img", "br", "link"];
    let mut open: Vec<String> = Vec::new();
    let mut rest = page;
    while let Some(start) = rest.find('<') {
        rest = &rest[start + 1..];
        let end = rest.find('>').ok_or("a tag without an end")?;
        let tag = &rest[..end];
        let closing = tag.strip_prefix('/');
        let name: String = closing
            .unwrap_or(tag)
            .chars()
            .take_while(|c| c.is_ascii_alphanumeric())
            .collect();
        if closing.is_some() {
            let last = open.pop();
            if last.as_deref() != Some(name.as_str()) {
                return Err(format!("{last:?} is closed by {name}"));
            }
        } else if name == "style" {
            let close = rest.find("</style>").ok_or("style without an end")?;
            rest = &rest[close + 8..];
            continue;
        } else if !tag.starts_with('!') && !tag.ends_with('/') && !VOID.contains(&name.as_str()) {
            open.push(name);
        }
        rest = &rest[end + 1..];
    }
    if open.is_empty() {
        Ok(())
    } else {
        Err(format!("left open: {open:?}"))
    }
}

#[test]
fn the_page_is_well_formed_and_fetches_nothing() {
    let outcome = horn();
    let page = report::html(&outcome, &[view("a"), view("b")]);
    assert_eq!(well_formed(&page), Ok(()));
    for word in [
        "src=\"http",
        "href=",
        "url(http",
        "@import",
        "<script",
        "//cdn",
    ] {
        assert!(!page.contains(word), "{word}");
    }
    let pictures = page.matches("src=\"data:image/png;base64,").count();
    assert_eq!(pictures, page.matches("src=").count());
    assert_eq!(pictures, 2);
    assert_eq!(page.matches("<svg").count(), 1);
}

#[test]
fn the_form_check_notices_a_tag_left_open() {
    assert!(well_formed("<html><p><b>x</p></html>").is_err());
    assert!(well_formed("<html><p>x</p>").is_err());
}

#[test]
fn hostile_names_stay_text() {
    let evil = "<script>alert(1)</script>\"'&<img src=http://x>";
    let mut outcome = horn();
    outcome.summary.title = evil.to_owned();
    outcome.summary.parts[0].name = evil.to_owned();
    outcome.summary.warnings.push(evil.to_owned());
    outcome.summary.coupons[0].name = evil.to_owned();
    outcome.parts[0].name = evil.to_owned();
    outcome.sources[0].name = evil.to_owned();
    outcome.sources[0].output = evil.to_owned();
    outcome.steps[0].note = Some(evil.to_owned());
    outcome.steps[0].vent = Some(evil.to_owned());
    outcome.bodies[0].name = evil.to_owned();
    outcome.plan_files.push((evil.to_owned(), evil.to_owned()));
    outcome.clearances[0].riding = evil.to_owned();
    let drawn = views::draw_all(&outcome);
    let page = report::html(&outcome, &drawn);
    assert!(
        !page.contains("<script") && !page.contains("<img src"),
        "a name became markup"
    );
    assert_eq!(well_formed(&page), Ok(()));
    for view in drawn {
        let safe = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-' || c == '.';
        assert!(view.file.chars().all(safe), "{}", view.file);
    }
}

#[test]
fn every_number_of_the_balance_is_on_the_page_and_a_leak_is_called_a_defect() {
    let mut outcome = horn();
    let page = report::html(&outcome, &[]);
    for count in ["141\u{a0}207", "351\u{a0}649", "1\u{a0}000\u{a0}000"] {
        assert!(page.contains(count), "{count}");
    }
    assert!(page.contains("add up exactly") && !page.contains("defective"));
    outcome.summary.balance.walls -= 1;
    assert!(report::html(&outcome, &[]).contains("defective"));
}

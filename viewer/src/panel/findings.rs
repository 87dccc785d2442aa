//! Findings: headline, distribution, causes, the pinned spot, coupons, warnings.

use crate::app::{Action, State};
use crate::stage::Shown;
use crate::stage::paint::{SHARES, thickness_at};
use egui::{Grid, RichText, ScrollArea, Ui};
use egui_plot::{Bar, BarChart, Plot, VLine};
use evenfall_sim::outcome::figures::{area, percent, three, trimmed, with_error};
use evenfall_sim::outcome::survey::Standing;
use std::fmt::Write as _;

/// Bars of the distribution.
const BARS: usize = 30;

/// Shows the panel.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    ui.heading("Findings");
    let Some(shown) = &state.shown else {
        ui.label("Nothing is open. Drop a plan or an outcome here, or type its path above.");
        return;
    };
    ScrollArea::vertical().show(ui, |ui| {
        for (number, sentence) in shown.headline.iter().enumerate() {
            let text = RichText::new(sentence);
            ui.label(if number == 0 { text.strong() } else { text });
        }
        if ui.button("Copy as text").clicked() {
            ui.ctx().copy_text(as_text(shown));
        }
        ui.separator();
        spot(ui, state, shown, wanted);
        ui.separator();
        distribution(ui, shown);
        ui.separator();
        causes(ui, shown);
        coupons(ui, shown);
        regions(ui, shown);
        for warning in &shown.outcome.summary.warnings {
            ui.label(format!("Warning: {warning}"));
        }
    });
}

/// What is known of the pinned spot.
fn spot(ui: &mut Ui, state: &State, shown: &Shown, wanted: &mut Vec<Action>) {
    let Some(spot) = &state.spot else {
        ui.label("Click on a part to pin a spot: why it gets what it gets.");
        return;
    };
    let Some(patch) = shown.survey.patches.get(spot.patch) else {
        return;
    };
    let facet = shown.facet(spot.patch);
    ui.label(RichText::new("Pinned spot").strong());
    let nm = 1e9 * thickness_at(shown, spot.patch, state.time_s);
    ui.label(match patch.standing {
        Standing::Unreached => "no film: proved unreached".to_owned(),
        Standing::Uncounted => "not counted: inside another solid".to_owned(),
        Standing::NoneSeen => format!(
            "no film was seen, error {} nm",
            three(1e9 * patch.std_error_m)
        ),
        _ => format!("{} nm", with_error(nm, 1e9 * patch.std_error_m)),
    });
    if let Some(facet) = facet
        && facet.incidence_rad.is_finite()
    {
        ui.label(format!(
            "mean incidence {:.0}°",
            facet.incidence_rad.to_degrees()
        ));
    }
    Grid::new("shares of the spot")
        .num_columns(2)
        .show(ui, |ui| {
            for (name, &share) in SHARES.iter().zip(&patch.shares) {
                if share >= 0.005 {
                    ui.label(*name);
                    ui.label(format!("{:.0} %", 100.0 * share));
                    ui.end_row();
                }
            }
        });
    if let Some(sight) = &state.sight {
        ui.label(format!(
            "At this moment {} of the open flux arrives",
            percent(sight.share)
        ));
        if let Some((angle_rad, share)) = sight.better {
            ui.label(format!(
                "Turned to {:.0}° it would be {}",
                angle_rad.to_degrees(),
                percent(share)
            ));
        }
        ui.label(
            "Lines: solid clear, long dashes blocked by a part, short ones by a fixture, dots behind",
        );
    }
    if ui.button("Unpin").clicked() {
        wanted.push(Action::Pin(None));
    }
}

/// Area by thickness, with the wanted line.
fn distribution(ui: &mut Ui, shown: &Shown) {
    ui.label(RichText::new("Area by thickness").strong());
    let scale = &shown.scale;
    let top_nm = 1e9 * scale.high_m.max(scale.want_m.unwrap_or(0.0));
    let width_nm = top_nm / BARS as f64;
    let mut areas = [0.0; BARS];
    for patch in &shown.survey.patches {
        if patch.standing != Standing::Uncounted {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "cut off at the last bar"
            )]
            let bar = ((1e9 * patch.thickness_m / width_nm) as usize).min(BARS - 1);
            areas[bar] += patch.area_m2;
        }
    }
    let all: f64 = areas.iter().sum();
    let bars = areas.iter().enumerate().map(|(bar, area)| {
        let middle = (bar as f64 + 0.5) * width_nm;
        Bar::new(middle, 100.0 * area / all.max(f64::MIN_POSITIVE)).width(width_nm)
    });
    let chart = BarChart::new("share of the area", bars.collect());
    Plot::new("distribution")
        .height(130.0)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .show_grid(false)
        .x_axis_label("thickness, nm")
        .y_axis_label("% of the area")
        .y_grid_spacer(|seen| {
            let mark = |value, step_size| egui_plot::GridMark { value, step_size };
            let tens = (0..=10).map(|k| mark(10.0 * f64::from(k), 10.0));
            tens.filter(|mark| mark.value <= seen.bounds.1).collect()
        })
        .set_margin_fraction(egui::Vec2::new(0.02, 0.05))
        .show(ui, |plot| {
            plot.bar_chart(chart);
            if let Some(want_m) = scale.want_m {
                plot.vline(VLine::new("wanted", 1e9 * want_m).width(2.0));
            }
        });
}

/// Named regions, whether anything is wanted of them or not.
fn regions(ui: &mut Ui, shown: &Shown) {
    if shown.regions.is_empty() {
        return;
    }
    ui.label(RichText::new("Regions").strong());
    Grid::new("regions").num_columns(3).show(ui, |ui| {
        for region in &shown.regions {
            ui.label(&region.name);
            ui.label(format!("{} mm²", area(1e6 * region.area_m2)));
            ui.label(format!(
                "mean {} nm, least {} nm",
                three(1e9 * region.mean_m),
                three(1e9 * region.least_m)
            ));
            ui.end_row();
        }
    });
}

/// Why thin and bare area is so.
fn causes(ui: &mut Ui, shown: &Shown) {
    for part in &shown.outcome.summary.parts {
        let mut causes: Vec<(&String, &f64)> =
            part.causes.iter().filter(|c| *c.1 >= 0.005).collect();
        if causes.is_empty() {
            continue;
        }
        causes.sort_by(|a, b| b.1.total_cmp(a.1));
        ui.label(RichText::new(format!("Why {} is thin or bare", part.name)).strong());
        Grid::new(("causes", &part.name))
            .num_columns(2)
            .show(ui, |ui| {
                for (name, share) in causes {
                    ui.label(cause(name));
                    ui.label(format!("{:.0} %", 100.0 * share));
                    ui.end_row();
                }
            });
    }
}

fn cause(name: &str) -> &str {
    match name {
        "facing" => SHARES[1],
        "self" => SHARES[2],
        "fixtures" => SHARES[3],
        "mask" => SHARES[4],
        "shutter" => SHARES[5],
        "gas" => SHARES[6],
        other => other,
    }
}

fn coupons(ui: &mut Ui, shown: &Shown) {
    for coupon in &shown.outcome.summary.coupons {
        let nm = with_error(coupon.thickness_nm, coupon.stderr_nm);
        ui.label(format!("Coupon {}: {nm} nm", coupon.name));
    }
    for tooling in &shown.outcome.summary.tooling {
        ui.label(format!(
            "Tooling factor {} over {}: {}",
            tooling.part,
            tooling.coupon,
            trimmed(tooling.factor)
        ));
    }
}

fn as_text(shown: &Shown) -> String {
    let mut text = shown.headline.join("\n");
    for coupon in &shown.outcome.summary.coupons {
        let nm = with_error(coupon.thickness_nm, coupon.stderr_nm);
        let _ = write!(text, "\ncoupon {}\t{nm}\tnm", coupon.name);
    }
    for part in &shown.outcome.summary.parts {
        for (name, share) in &part.causes {
            let _ = write!(
                text,
                "\n{} {}\t{:.1}\t%",
                part.name,
                cause(name),
                100.0 * share
            );
        }
    }
    text
}

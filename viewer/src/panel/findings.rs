//! Findings: headline, distribution, causes, the pinned spot, coupons, regions, probes, warnings.

mod spot;
mod table;

use crate::app::{Action, State};
use crate::stage::Shown;
use crate::stage::paint::SHARES;
use egui::{CollapsingHeader, Grid, RichText, ScrollArea, Ui};
use egui_plot::{Bar, BarChart, GridMark, Line, Plot, PlotPoints, VLine};
use evenfall_sim::outcome::colour::round_step;
use evenfall_sim::outcome::figures::{percent, three, trimmed, with_error};
use evenfall_sim::outcome::reading::Reading;
use evenfall_sim::outcome::report::worth_sentences;

/// So many warnings are shown without being asked for.
const FEW_WARNINGS: usize = 1;

/// Shows the panel.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    ui.set_min_width(ui.available_width());
    ui.heading("Findings");
    let at_end = state
        .shown
        .as_ref()
        .is_none_or(|shown| state.time_s >= shown.lasts_s());
    if !at_end {
        ui.label("At the end of the run, wherever the playhead stands:");
    }
    let Some(shown) = &state.shown else {
        ui.label("Nothing is open. Drop a plan or an outcome here, or type its path above.");
        return;
    };
    let reading = state.settings.reading;
    ScrollArea::vertical().show(ui, |ui| {
        if !state.trouble.is_empty() {
            let text =
                "The plan as it stands cannot be run. The map is of what can be told so far.";
            ui.colored_label(ui.visuals().error_fg_color, text);
            if ui.button("Show the problem").clicked() {
                super::setup::go_to_trouble(ui, state);
            }
        }
        for (number, sentence) in shown.headline(reading).iter().enumerate() {
            let text = RichText::new(sentence);
            ui.label(if number == 0 { text.strong() } else { text });
        }
        warnings(ui, shown);
        ui.horizontal_wrapped(|ui| {
            if ui.button("Copy as text").clicked() {
                ui.ctx().copy_text(table::as_text(shown, reading));
            }
            let tip = "Every number of this panel, a row each, to be pasted into a spreadsheet";
            if ui.button("Copy as table").on_hover_text(tip).clicked() {
                ui.ctx().copy_text(table::as_table(shown, reading));
            }
            let tip = "The stage with scale, title and inputs, as a PNG in the current folder";
            if ui.button("Save figure").on_hover_text(tip).clicked() {
                wanted.push(Action::Figure);
            }
        });
        super::advice::show(ui, state, wanted);
        ui.separator();
        spot::show(ui, state, shown, wanted);
        ui.separator();
        distribution(ui, shown, reading);
        ui.separator();
        causes(ui, shown);
        coupons(ui, shown, reading);
        regions(ui, state, shown);
        probes(ui, shown, reading);
        for (what, sentence) in worth_sentences(&shown.outcome.summary) {
            ui.label(RichText::new(what).strong());
            ui.label(sentence);
        }
        for stencil in &shown.outcome.summary.stencils {
            ui.label(RichText::new(format!("Stencil {}", stencil.name)).strong());
            for sentence in &stencil.sentences {
                ui.label(sentence);
            }
        }
    });
}

/// Warnings, right under the headline: open while they are few.
fn warnings(ui: &mut Ui, shown: &Shown) {
    let warnings = &shown.outcome.summary.warnings;
    if warnings.is_empty() {
        return;
    }
    let title = match warnings.len() {
        1 => "1 warning".to_owned(),
        many => format!("{many} warnings"),
    };
    let title = RichText::new(title).color(ui.visuals().warn_fg_color);
    CollapsingHeader::new(title)
        .id_salt("warnings")
        .default_open(warnings.len() <= FEW_WARNINGS)
        .show(ui, |ui| {
            for warning in warnings {
                ui.label(format!("Warning: {warning}"));
            }
        });
}

/// A thickness and its standard error with their unit.
pub fn film_with_error(reading: Reading, film_m: f64, std_error_m: f64) -> String {
    let both = with_error(reading.film(film_m), reading.film(std_error_m));
    format!("{both} {}", reading.film_unit())
}

/// Round marks for an axis of a plot, so many at least.
pub fn marks(least: f64) -> impl Fn(egui_plot::GridInput) -> Vec<GridMark> {
    move |seen| {
        let (low, high) = seen.bounds;
        let step_size = round_step((high - low) / (2.0 * least));
        let first = (low / step_size).ceil();
        let mark = |number: u32| GridMark {
            value: (first + f64::from(number)) * step_size,
            step_size,
        };
        (0..64)
            .map(mark)
            // a number at the very end would be cut off
            .take_while(|mark| mark.value <= high - 0.04 * (high - low))
            .collect()
    }
}

/// A plot that stands still.
fn still<'a>(name: &str) -> Plot<'a> {
    Plot::new(name)
        .height(140.0)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .show_grid(false)
        .x_grid_spacer(marks(2.0))
        .y_grid_spacer(marks(2.0))
        .x_axis_formatter(|mark, _| trimmed(mark.value))
        .y_axis_formatter(|mark, _| trimmed(mark.value))
        .grid_spacing(egui::Rangef::new(1.0, 2.0))
        .set_margin_fraction(egui::Vec2::new(0.02, 0.05))
}

/// Area by thickness, with the wanted line.
fn distribution(ui: &mut Ui, shown: &Shown, reading: Reading) {
    let judged = !shown.outcome.region_names.is_empty() && shown.outcome.summary.film.is_some();
    let title = if judged {
        "Wanted area by thickness"
    } else {
        "Area by thickness"
    };
    ui.label(RichText::new(title).strong());
    let width = reading.film(shown.bars_to_m) / shown.bars.len() as f64;
    let bars = shown.bars.iter().enumerate().map(|(bar, share)| {
        let middle = (bar as f64 + 0.5) * width;
        Bar::new(middle, 100.0 * share).width(width)
    });
    let chart = BarChart::new("share of the area", bars.collect());
    still("distribution")
        .x_axis_label(format!("thickness, {}", reading.film_unit()))
        .y_axis_label("% of the area")
        .show(ui, |plot| {
            plot.bar_chart(chart);
            if let Some(want_m) = shown.scale.want_m {
                plot.vline(VLine::new("wanted", reading.film(want_m)).width(2.0));
            }
        });
}

/// Thickness along the probes.
fn probes(ui: &mut Ui, shown: &Shown, reading: Reading) {
    for (name, points) in &shown.outcome.probes {
        ui.label(RichText::new(format!("Probe {name}")).strong());
        let film = points.iter().map(|point| {
            [
                reading.length(point.s_m),
                reading.film(point.sums.thickness_m),
            ]
        });
        let line = Line::new(name.as_str(), film.collect::<PlotPoints<'_>>());
        still(name)
            .include_y(0.0)
            .x_axis_label(format!("along it, {}", reading.length_unit()))
            .y_axis_label(format!("thickness, {}", reading.film_unit()))
            .show(ui, |plot| plot.line(line));
    }
}

/// Named regions, whether anything is wanted of them or not, beside those of A.
fn regions(ui: &mut Ui, state: &State, shown: &Shown) {
    if shown.regions.is_empty() {
        return;
    }
    let reading = state.settings.reading;
    ui.label(RichText::new("Regions").strong())
        .on_hover_text("outlined on the part");
    for region in &shown.regions {
        ui.label(RichText::new(format!(
            "{}, {}",
            region.name,
            reading.area_in_words(region.area_m2)
        )));
        let before = state.pinned.as_ref().and_then(|kept| {
            let mut regions = kept.regions.iter();
            regions.find(|other| other.name == region.name)
        });
        let against = before.map_or(String::new(), |before| {
            format!(" (A: {})", reading.film_in_words(before.mean_m))
        });
        let mut line = format!(
            "mean {}{against}, least {}",
            reading.film_in_words(region.mean_m),
            reading.film_in_words(region.least_m)
        );
        if let (Some(enough), Some(want_m)) = (region.enough, shown.scale.want_m) {
            let want = reading.asked_in_words(want_m);
            line += &format!("; {} reaches {want}", percent(enough));
        }
        if let Some((cause, share)) = region.cause {
            line += &format!(
                ". Where it does not, {:.0} % is {}",
                100.0 * share,
                SHARES[cause]
            );
        }
        ui.indent(&region.name, |ui| ui.label(line));
    }
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

fn coupons(ui: &mut Ui, shown: &Shown, reading: Reading) {
    for coupon in &shown.outcome.summary.coupons {
        let film = film_with_error(reading, 1e-9 * coupon.thickness_nm, 1e-9 * coupon.stderr_nm);
        ui.label(format!("Coupon {}: {film}", coupon.name));
    }
    for tooling in &shown.outcome.summary.tooling {
        ui.label(format!(
            "Tooling factor {} over {}: {}",
            tooling.part,
            tooling.coupon,
            three(tooling.factor)
        ));
    }
}

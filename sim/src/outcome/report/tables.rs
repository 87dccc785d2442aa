//! Tables of the report: parts, regions, coupons, audit, balance, mesh health, clearances.
//!
//! In: an [`Outcome`]. Out: markup.

use super::super::card::{angles, range};
use super::super::figures::{
    area, count, inches, millimetres, percent, power_of_ten, significant, three, with_error,
};
use super::super::headline::rate_factor;
use super::super::model::{Outcome, PartSummary, RegionVerdict, Summary};
use super::keep_together as nb;
use maud::{Markup, html};

/// Distance under which a clearance is pointed out, m. Common practice, no source.
const TIGHT_M: f64 = 0.002;

/// Parts, regions, coupons.
pub fn numbers(outcome: &Outcome) -> Markup {
    let summary = &outcome.summary;
    html! {
        section.wide {
            h2 { "Numbers" }
            (parts(summary))
            @if let Some(film) = &summary.film { (regions(&film.regions)) }
            (coupons(outcome))
        }
    }
}

fn parts(summary: &Summary) -> Markup {
    html! {
        div.scroll { table.grid {
            caption { "Parts. Thickness in nm over the counted area; shares of that area." }
            thead { tr {
                th { "part" } th { "area, mm²" } th { "mean" } th { "median" } th { "5–95 %" } th { "least" } th { "most" }
                th { "enough" } th { "thin" } th { "none seen" } th { "unreached" } th { "buried" }
            } }
            tbody { @for part in &summary.parts { (part_row(part)) } }
        } }
        p.note { "Least and most are single facets and carry their noise, about "
            @for (k, part) in summary.parts.iter().enumerate() { @if k > 0 { ", " } (nb(&format!("{} nm", significant(part.thickness_nm.noise, 2)))) }
            ". “None seen” is no proof of bare: triangles.csv holds the bound of each. “Unreached” is proved." }
    }
}

fn part_row(part: &PartSummary) -> Markup {
    let t = &part.thickness_nm;
    html! {
        tr {
            th { (part.name) }
            td { (nb(&area(part.area_mm2))) }
            td { (nb(&with_error(t.mean, t.mean_stderr))) }
            td { (three(t.median)) }
            td { (three(t.p05)) "–" (three(t.p95)) }
            td { (three(t.min)) }
            td { (three(t.max)) }
            @for share in [part.reached_want_fraction, part.thin_fraction, part.none_seen_fraction, part.unreached_fraction, part.buried_fraction] {
                td { (nb(&percent(share))) }
            }
        }
    }
}

fn regions(regions: &[RegionVerdict]) -> Markup {
    html! {
        div.scroll { table.grid {
            caption { "Film wanted, place by place." }
            thead { tr { th { "place" } th { "should be" } th { "area, mm²" } th { "share that is so" } th { "mean, nm" } th { "verdict" } } }
            tbody { @for region in regions {
                tr {
                    th { (region.name) }
                    td { @if region.wanted == "bare" { "bare" } @else { "coated" } }
                    td { (nb(&area(region.area_mm2))) }
                    td { (nb(&format!("{} %", with_error(100.0 * region.fraction, 100.0 * region.stderr)))) }
                    td { (three(region.mean_nm)) }
                    td { b { (region.verdict) } }
                }
            } }
        } }
    }
}

fn coupons(outcome: &Outcome) -> Markup {
    let summary = &outcome.summary;
    let factor = rate_factor(outcome);
    html! {
        @if summary.coupons.is_empty() {
            p.note { "No coupon in the plan, so no tooling factor: a witness slide beside the part would tie these numbers to your machine." }
        } @else {
            div.scroll { table.grid {
                caption { "Coupons, and tooling factors: mean thickness on the part over thickness on the coupon." }
                thead { tr {
                    th { "coupon" } th { "thickness, nm" }
                    @if summary.uncalibrated { th { "with the doubt of the rate" } }
                    @for part in &summary.parts { th { "factor for " (part.name) } }
                } }
                tbody { @for coupon in &summary.coupons {
                    tr {
                        th { (coupon.name) }
                        td { (nb(&with_error(coupon.thickness_nm, coupon.stderr_nm))) }
                        @if summary.uncalibrated { td { (range(coupon.thickness_nm, factor)) } }
                        @for part in &summary.parts {
                            @let found = summary.tooling.iter().find(|t| t.part == part.name && t.coupon == coupon.name);
                            td { @if let Some(t) = found { (nb(&with_error(t.factor, t.stderr))) } @else { "–" } }
                        }
                    }
                } }
            } }
        }
    }
}

/// The run's method against plain firing.
pub fn audit(outcome: &Outcome) -> Markup {
    let audit = &outcome.summary.audit;
    html! {
        @if !audit.is_empty() {
            h3 { "Two ways to the same number" }
            div.scroll { table.grid {
                caption { "Mean thickness by the run's method, and by atoms fired one by one." }
                thead { tr { th { "on" } th { "this run, nm" } th { "fired, nm" } th { "apart" } } }
                tbody { @for one in audit {
                    tr {
                        th { (one.name) }
                        td { (nb(&with_error(one.mean_nm, one.mean_stderr_nm))) }
                        td { (nb(&with_error(one.fired_nm, one.fired_stderr_nm))) }
                        td { (significant(one.z.abs(), 2)) " standard errors" }
                    }
                } }
            } }
            p.note { "Up to about 3 is chance; more is a warning above." }
        }
    }
}

/// Where the fired atoms ended.
pub fn balance(outcome: &Outcome) -> Markup {
    let summary = &outcome.summary;
    let b = &summary.balance;
    let fates = [
        ("on the part", b.part),
        ("on its uncounted side", b.part_back),
        ("on fixtures", b.fixtures),
        ("on stencils", b.mask),
        ("on shutters", b.shutter),
        ("on coupons", b.coupons),
        ("on the chamber wall", b.walls),
        ("back on a source", b.source),
        ("gone (no chamber)", b.escaped),
    ];
    let sum: u64 = fates.iter().map(|f| f.1).sum();
    let share = |n: u64| {
        if b.emitted > 0 {
            n as f64 / b.emitted as f64
        } else {
            0.0
        }
    };
    let metal = summary
        .metal_used_mg
        .iter()
        .map(|(metal, mg)| format!("{} mg of {metal}", three(*mg)));
    html! {
        h3 { "Where the metal goes" }
        table.grid.bars {
            caption { (nb(&count(b.emitted))) " atoms fired through the whole schedule, shut steps too; they stand for "
                (nb(&power_of_ten(summary.emitted_real))) " real ones (" (nb(&metal.collect::<Vec<_>>().join(", "))) ")." }
            tbody {
                @for (name, number) in fates.iter().filter(|f| f.1 > 0) {
                    tr {
                        th { (name) }
                        td.bar { span.fill style=(format!("width:{:.1}%", 100.0 * share(*number))) {} }
                        td { (nb(&count(*number))) }
                        td { (nb(&percent(share(*number)))) }
                    }
                }
            }
        }
        @if sum == b.emitted { p.note { "Every atom has a fate: the counts add up exactly." } }
        @else { p { b { "The counts add up to " (count(sum)) ", not to " (count(b.emitted)) ": this outcome is defective, do not use it." } } }
    }
}

/// Mesh health and clearances.
pub fn geometry(outcome: &Outcome) -> Markup {
    html! {
        section.wide {
            h2 { "The mesh and its room" }
            div.scroll { table.grid {
                caption { "What was found in the mesh files, and what was mended." }
                thead { tr { th { "part" } th { "size, mm" } th { "triangles" } th { "facets" } th { "needles" } th { "welded corners" } th { "closed shells" } th { "hollows" }
                    th { "open sheets" } th { "open edges" } th { "edges of 3 or more" } th { "turned round" } th { "sides disagree" } th { "buried" } } }
                tbody { @for part in &outcome.summary.parts {
                    @let h = &part.health;
                    tr {
                        th { (part.name) }
                        td { (part.size_mm.map(|mm| millimetres(1e-3 * mm)).join(" × ")) }
                        @for number in [part.triangles, part.facets, h.needles, h.welded_corners, h.closed_shells, h.hollows, h.open_sheets, h.open_edges,
                            h.non_manifold_edges, h.flipped, h.flip_edges, h.buried] {
                            td { (nb(&count(number as u64))) }
                        }
                    }
                } }
            } }
            (clearances(outcome))
        }
    }
}

fn clearances(outcome: &Outcome) -> Markup {
    html! {
        @if outcome.clearances.is_empty() {
            p.note { "Nothing rides past anything else, so there are no clearances." }
        } @else {
            div.scroll { table.grid {
                caption { "Clearances: smallest distance between what rides and what stands still." }
                thead { tr { th { "riding" } th { "still" } th { "in the schedule" } th { "at" } th { "in a full turn" } th { "at" } th {} } }
                tbody { @for one in &outcome.clearances {
                    tr {
                        th { (one.riding) }
                        td { (one.still) }
                        td { @if one.scheduled_is_bound { "at least " } (distance(one.scheduled_m)) }
                        td { (angles(&one.scheduled_at_rad)) }
                        td { @if one.full_turn_is_bound { "at least " } (distance(one.full_turn_m)) }
                        td { (angles(&one.full_turn_at_rad)) }
                        td { @if one.full_turn_m <= 0.0 { b { "touches" } } @else if one.full_turn_m < TIGHT_M { b { "tight" } } }
                    }
                } }
            } }
        }
    }
}

fn distance(length_m: f64) -> String {
    nb(&format!(
        "{} mm ({} in)",
        millimetres(length_m),
        inches(length_m)
    ))
}

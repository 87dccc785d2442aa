//! Writes the outcome folder.
//!
//! In: an [`Outcome`], a folder and the list of files wanted. Out: the folder, swapped in whole.

use super::coated::Coated;
use super::error::WriteError;
use super::folder::Staging;
use super::list::{WriteItem, WriteList};
use super::model::Outcome;
use super::{container, glb, ply, report, tables, validate, views, vtu};
use std::io::{self, Write};
use std::path::Path;

/// Writes an outcome: beside the folder first, then in its place.
///
/// `summary.json` is written whatever the list says: by it the next run knows the folder as an outcome. The same
/// outcome gives the same bytes.
///
/// # Errors
/// When the folder holds anything that is not ours, the disk refuses, or the outcome is not sound; the folder is then as
/// it was.
pub fn write(outcome: &Outcome, folder: &Path, list: &WriteList) -> Result<(), WriteError> {
    validate(outcome)?;
    let staging = Staging::begin(folder)?;
    staging.file("summary.json", |file| summary(outcome, file))?;
    // Side by side: whoever writes waits for the disk, and writing numbers as text keeps one thread busy.
    let jobs: [&(dyn Fn() -> Result<(), WriteError> + Sync); 4] = [
        &|| triangles(outcome, &staging, list),
        &|| lists(outcome, &staging, list),
        &|| meshes(outcome, &staging, folder, list),
        &|| container(outcome, &staging, list),
    ];
    std::thread::scope(|scope| {
        let others = jobs.map(|job| scope.spawn(job));
        let pictures = pictures(outcome, &staging, list);
        let others = others.map(|other| match other.join() {
            Ok(done) => done,
            Err(panic) => std::panic::resume_unwind(panic),
        });
        others.into_iter().fold(pictures, Result::and)
    })?;
    staging.commit()
}

fn triangles(outcome: &Outcome, staging: &Staging, list: &WriteList) -> Result<(), WriteError> {
    if list.has(WriteItem::Triangles) {
        staging.file("triangles.csv", |file| tables::triangles(outcome, file))?;
    }
    Ok(())
}

/// Probes and what stencils were corrected to.
fn lists(outcome: &Outcome, staging: &Staging, list: &WriteList) -> Result<(), WriteError> {
    if list.has(WriteItem::Probes) {
        for (name, (_, points)) in tables::probe_files(outcome).iter().zip(&outcome.probes) {
            staging.file(name, |file| tables::probe(points, file))?;
        }
        for (name, text) in &outcome.stencil_files {
            staging.file(name, |file| file.write_all(text.as_bytes()))?;
        }
    }
    Ok(())
}

fn container(outcome: &Outcome, staging: &Staging, list: &WriteList) -> Result<(), WriteError> {
    if list.has(WriteItem::Outcome) {
        staging.file("coat.evenfall", |file| container::write(outcome, file))?;
    }
    Ok(())
}

fn pictures(outcome: &Outcome, staging: &Staging, list: &WriteList) -> Result<(), WriteError> {
    if list.has(WriteItem::Views) || list.has(WriteItem::Report) {
        let views = views::draw_all(outcome);
        if list.has(WriteItem::Report) {
            let page = report::html(outcome, &views);
            staging.file("report.html", |file| file.write_all(page.as_bytes()))?;
        }
        if list.has(WriteItem::Views) {
            for view in &views {
                staging.file(&view.file, |file| file.write_all(&view.png))?;
            }
        }
    }
    Ok(())
}

/// `summary.json`: indented, keys in a fixed order, a line end last.
fn summary(outcome: &Outcome, file: &mut impl Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *file, &outcome.summary)?;
    file.write_all(b"\n")
}

fn meshes(
    outcome: &Outcome,
    staging: &Staging,
    folder: &Path,
    list: &WriteList,
) -> Result<(), WriteError> {
    if !list.has(WriteItem::Mesh) {
        return Ok(());
    }
    let coated = Coated::of(outcome).map_err(|error| {
        let error = io::Error::new(io::ErrorKind::FileTooLarge, error);
        WriteError::io("write", &folder.join("coat.ply"))(error)
    })?;
    staging.file("coat.ply", |file| ply::write(&coated, file))?;
    staging.file("coat.vtu", |file| vtu::write(outcome, &coated, file))?;
    staging.file("coat.glb", |file| glb::write(outcome, &coated, file))
}

//! Advice beside the window: a search on a thread of its own, from a plan's text to a front of plans.
//!
//! In: the plan as it stands. Out: [`Advising`], what is known of it so far.

use super::document::Document;
use super::job::Store;
use super::teller::{Listener, Teller, both_sides};
use super::{ACCURACY, State, Wake};
use evenfall_sim::advise::{self, Advised, Asked, NoJournal, Refusal};
use evenfall_sim::plan;
use evenfall_sim::scene;
use evenfall_sim::transport::{Method, RunSettings};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;

/// Unevenness that the last part of a turn may bring, as `advise` has it by default.
const RIPPLE: f64 = 0.01;
/// How much a step may be off by hand, s, as `advise` has it by default.
const TIMING_S: f64 = 1.0;

/// How far advice is.
#[derive(Debug, Clone, Default)]
pub enum Advising {
    /// Not asked for.
    #[default]
    Idle,
    /// What it does, and the share of it that is done.
    Busy(&'static str, f64),
    /// What was found, and the plan that it was asked for.
    Found(Arc<Advised>, String),
    /// Why there is none.
    Refused(String),
}

enum News {
    Stage(&'static str, f64),
    Ended(Result<Box<Advised>, String>),
}

/// A search under way; dropping it ends it.
pub struct Search {
    news: Listener<News>,
    of: String,
}

impl Search {
    fn start(document: &Document, meshes: Store, wake: Wake) -> Self {
        let (teller, news) = both_sides(wake, News::Stage);
        let (path, of) = (document.path.clone(), document.text().to_owned());
        let text = of.clone();
        std::thread::spawn(move || {
            let found = catch_unwind(AssertUnwindSafe(|| work(&teller, &path, &text, &meshes)));
            let found = found
                .unwrap_or_else(|_| Err("the search failed by a fault of the program".to_owned()));
            teller.say(News::Ended(found.map(Box::new)));
        });
        Self { news, of }
    }
}

fn work(teller: &Teller<News>, path: &Path, text: &str, meshes: &Store) -> Result<Advised, String> {
    let plan = plan::read_text(path, text).map_err(|found| {
        let first = found.errors.first();
        first.map_or_else(String::new, |error| {
            format!("{}: {}", error.key(), error.message())
        })
    })?;
    let meshes = {
        let mut meshes = meshes.lock().unwrap_or_else(|broken| broken.into_inner());
        scene::load_missing(&plan, &mut meshes).map_err(|issues| issues.to_string())?;
        meshes.clone()
    };
    let asked = Asked {
        settings: RunSettings {
            method: Method::Auto,
            accuracy: ACCURACY,
            time: None,
            atoms: None,
            seed: 1,
            threads: 0,
        },
        ripple: RIPPLE,
        timing_s: TIMING_S,
    };
    advise::advise(&plan, &meshes, &asked, (&mut NoJournal, teller)).map_err(
        |refusal| match refusal {
            Refusal::Scene(issues) => issues.to_string(),
            other => other.to_string(),
        },
    )
}

impl State {
    /// True while advice is searched for.
    #[cfg(test)]
    pub fn is_advising(&self) -> bool {
        self.search.is_some()
    }

    /// Starts a search for the plan as it stands; one that is under way ends.
    pub(super) fn advise(&mut self) {
        if let Some(document) = &self.document {
            self.advising = Advising::Busy("reading", 0.0);
            let (meshes, wake) = (Arc::clone(&self.meshes), Arc::clone(&self.wake));
            self.search = Some(Search::start(document, meshes, wake));
        }
    }

    /// Ends the search with what it has found.
    pub(super) fn advise_no_more(&self) {
        if let Some(search) = &self.search {
            search.news.stop();
        }
    }

    /// Ends a search and forgets what was found: it was of another plan.
    pub(super) fn forget_advice(&mut self) {
        self.search = None;
        self.advising = Advising::Idle;
    }

    /// Takes what the search has sent; true when something is new.
    pub(super) fn hear_advice(&mut self) -> bool {
        let mut new = false;
        while let Some(news) = self.search.as_ref().and_then(|s| s.news.next()) {
            new = true;
            self.advising = match news {
                News::Stage(stage, done) => Advising::Busy(stage, done),
                News::Ended(found) => {
                    let of = self
                        .search
                        .take()
                        .map_or_else(String::new, |s| s.of.clone());
                    match found {
                        Ok(found) => Advising::Found(Arc::from(found), of),
                        Err(why) => Advising::Refused(why),
                    }
                }
            };
        }
        new
    }

    /// Puts an advised plan in the place of the one that is worked on, in one edit, and runs it.
    pub(super) fn take_plan(&mut self, text: String) {
        let Some(document) = &mut self.document else {
            return;
        };
        let changed = match &self.advising {
            Advising::Found(found, of) => {
                let own = found.text.iter().chain(found.front_texts.iter().flatten());
                let now = document.text();
                now != of && !own.into_iter().any(|text| text == now)
            }
            _ => false,
        };
        document.take_over(text);
        document.keep();
        self.note = changed.then(|| {
            "the plan was changed after the search began; Undo brings that back".to_owned()
        });
        self.start();
    }
}

//! The layers of a film, in the order in which they grow.
//!
//! In: which metals are open in each step. Out: per facet how thick each layer is, for looks and conduction.

use super::super::model::{Outcome, PartOutcome};
use crate::scene::Scene;

/// Layers of a film, the one on the part first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layers {
    /// Metal of each.
    pub metals: Vec<String>,
    /// Steps that make each; nothing where one metal makes all of the film.
    steps: Vec<Vec<usize>>,
}

/// Two metals that grow at the same time: what their mixture looks like and conducts is not known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mixed(pub [String; 2]);

impl Layers {
    /// The layers of a scene's film.
    ///
    /// # Errors
    /// Two metals that are open in one step.
    pub fn of_scene(scene: &Scene) -> Result<Self, Mixed> {
        let metal = |source: usize| scene.metals[scene.sources[source].metal].name.clone();
        let steps = scene.steps.iter().map(|step| metals(&step.open, metal));
        Self::from_steps(&steps.collect::<Vec<_>>())
    }

    /// The layers of an outcome's film.
    ///
    /// # Errors
    /// Two metals that are open in one step.
    pub fn of_outcome(outcome: &Outcome) -> Result<Self, Mixed> {
        let metal = |source: usize| {
            let found = outcome.sources.get(source);
            found.map_or(String::new(), |source| source.metal.clone())
        };
        let steps = outcome.steps.iter().map(|step| metals(&step.open, metal));
        Self::from_steps(&steps.collect::<Vec<_>>())
    }

    /// The layers that follow from the metals of each step.
    ///
    /// # Errors
    /// Two metals in one step.
    pub fn from_steps(of_steps: &[Vec<String>]) -> Result<Self, Mixed> {
        let mut layers = Self {
            metals: Vec::new(),
            steps: Vec::new(),
        };
        for (step, metals) in of_steps.iter().enumerate() {
            match metals.as_slice() {
                [] => {}
                [metal] if layers.metals.last() == Some(metal) => {
                    if let Some(steps) = layers.steps.last_mut() {
                        steps.push(step);
                    }
                }
                [metal] => {
                    layers.metals.push(metal.clone());
                    layers.steps.push(vec![step]);
                }
                [one, other, ..] => return Err(Mixed([one.clone(), other.clone()])),
            }
        }
        if layers.metals.len() == 1 {
            layers.steps.clear();
        }
        Ok(layers)
    }

    /// A film of one metal.
    #[cfg(test)]
    pub fn one(metal: &str) -> Self {
        Self {
            metals: vec![metal.to_owned()],
            steps: Vec::new(),
        }
    }

    /// Thickness of each layer on a facet, m.
    ///
    /// - `number`: among the part's facets, front then back
    pub fn films_m(&self, part: &PartOutcome, number: usize) -> Vec<f64> {
        if self.steps.is_empty() {
            let facet = match number.checked_sub(part.facets.len()) {
                None => part.facets.get(number),
                Some(back) => part.back_facets.get(back),
            };
            return vec![facet.map_or(0.0, |facet| facet.thickness_m); self.metals.len()];
        }
        let of_step = |step: &usize| {
            let film = part.by_step_m.get(*step).and_then(|film| film.get(number));
            film.map_or(0.0, |&m| f64::from(m))
        };
        let layers = self.steps.iter();
        layers
            .map(|steps| steps.iter().map(of_step).sum())
            .collect()
    }

    /// In words: `silver`, `chromium and gold on it`.
    pub fn in_words(&self) -> String {
        let mut words = self.metals.iter().map(String::as_str);
        let first = words.next().unwrap_or("nothing").to_owned();
        words.fold(first, |all, metal| format!("{all} and {metal} on it"))
    }
}

/// Metals of the open sources of a step, each once.
fn metals(open: &[bool], metal: impl Fn(usize) -> String) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for source in (0..open.len()).filter(|&source| open[source]) {
        let metal = metal(source);
        if !found.contains(&metal) {
            found.push(metal);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps(of: &[&[&str]]) -> Vec<Vec<String>> {
        let owned = |metals: &&[&str]| metals.iter().map(|m| (*m).to_owned()).collect();
        of.iter().map(owned).collect()
    }

    #[test]
    fn steps_of_one_metal_make_one_layer_and_shut_ones_none() {
        let of = |given: &[&[&str]]| Layers::from_steps(&steps(given));
        let two = of(&[&[], &["chromium"], &["gold"], &[], &["gold"]]).unwrap();
        assert_eq!(two.metals, ["chromium", "gold"]);
        assert_eq!(two.steps, [vec![1], vec![2, 4]]);
        assert_eq!(two.in_words(), "chromium and gold on it");
        let three = of(&[&["gold"], &["silver"], &["gold"]]).unwrap();
        assert_eq!(three.metals.len(), 3);
        let together = of(&[&["chromium"], &["chromium", "gold"]]);
        let both = ["chromium".to_owned(), "gold".to_owned()];
        assert_eq!(together, Err(Mixed(both)));
    }
}

//! Changes of a plan's text that keep its comments and order.

use super::fields::Step;
use super::rename::rename;
use toml_edit::{DocumentMut, Item, TableLike, Value};

/// A change.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// A value gets another text, as typed.
    Set(Vec<Step>, String),
    /// A name gets another text, and so does what refers to it.
    Rename(Vec<Step>, String),
    /// A key gets a value in TOML, in the table at the end of the way; one that is there is replaced.
    Put(Vec<Step>, String, String),
    /// A key, or an entry of a list of tables, goes.
    Remove(Vec<Step>),
    /// A table in TOML comes at the end.
    Append(String),
    /// Several, one after the other.
    All(Vec<Change>),
}

impl Change {
    /// The text of a plan after it.
    ///
    /// # Errors
    /// A sentence, if it does not fit the text.
    pub fn of(&self, text: &str) -> Result<String, String> {
        let mut document = text
            .parse::<DocumentMut>()
            .map_err(|_| "the plan is no TOML at present".to_owned())?;
        match self {
            Self::Set(steps, typed) => set(&mut document, steps, typed)?,
            Self::Rename(steps, name) => rename(&mut document, steps, name)?,
            Self::Put(way, key, toml) => put(&mut document, way, (key, toml))?,
            Self::Remove(steps) => remove(&mut document, steps)?,
            Self::All(changes) => {
                let mut text = text.to_owned();
                for change in changes {
                    text = change.of(&text)?;
                }
                return Ok(text);
            }
            Self::Append(table) => {
                let gap = if text.ends_with('\n') { "\n" } else { "\n\n" };
                return Ok(format!("{text}{gap}{table}"));
            }
        }
        Ok(document.to_string())
    }
}

fn missing() -> String {
    "that value is no longer in the plan".to_owned()
}

/// Goes along the tables of a way; what is left of it lies in values.
fn walk<'a, 'b>(
    document: &'a mut DocumentMut,
    steps: &'b [Step],
) -> Result<(&'a mut Item, &'b [Step]), String> {
    let mut item = document.as_item_mut();
    let mut rest = steps;
    while let [step, others @ ..] = rest {
        if item.is_value() {
            break;
        }
        let next = match step {
            Step::Key(key) => item.get_mut(key.as_str()),
            Step::Place(place) => item.get_mut(*place),
        };
        // a key that is not there is an item of no kind
        item = next.filter(|item| !item.is_none()).ok_or_else(missing)?;
        rest = others;
    }
    Ok((item, rest))
}

/// The value at the end of a way.
pub(super) fn value_at<'a>(
    document: &'a mut DocumentMut,
    steps: &[Step],
) -> Result<&'a mut Value, String> {
    let (item, rest) = walk(document, steps)?;
    let value = item.as_value_mut().ok_or_else(missing)?;
    let mut rest = rest.iter();
    let value = rest.try_fold(value, |value, step| match step {
        Step::Key(key) => value.as_inline_table_mut()?.get_mut(key),
        Step::Place(place) => value.as_array_mut()?.get_mut(*place),
    });
    value.ok_or_else(missing)
}

fn set(document: &mut DocumentMut, steps: &[Step], text: &str) -> Result<(), String> {
    let value = value_at(document, steps)?;
    let decor = value.decor().clone();
    *value = typed(value, text.trim());
    *value.decor_mut() = decor;
    Ok(())
}

fn put(document: &mut DocumentMut, way: &[Step], (key, toml): (&str, &str)) -> Result<(), String> {
    let value = toml.parse::<Value>().map_err(|error| error.to_string())?;
    let mut steps = way.to_vec();
    steps.push(Step::Key(key.to_owned()));
    if let Ok(old) = value_at(document, &steps) {
        let decor = old.decor().clone();
        *old = value;
        *old.decor_mut() = decor;
        return Ok(());
    }
    let (item, rest) = walk(document, way)?;
    let table: &mut dyn TableLike = match (item, rest) {
        (Item::Value(_), _) => {
            let inner = value_at(document, way)?;
            inner.as_inline_table_mut().ok_or_else(missing)?
        }
        (item, []) => item.as_table_like_mut().ok_or_else(missing)?,
        _ => return Err(missing()),
    };
    table.insert(key, Item::Value(value));
    Ok(())
}

fn remove(document: &mut DocumentMut, steps: &[Step]) -> Result<(), String> {
    let (last, way) = steps.split_last().ok_or_else(missing)?;
    let (item, rest) = walk(document, way)?;
    match (last, rest) {
        (Step::Key(key), []) => {
            let table = item.as_table_like_mut().ok_or_else(missing)?;
            table.remove(key).map(drop).ok_or_else(missing)
        }
        (Step::Place(place), []) => {
            let tables = item.as_array_of_tables_mut().ok_or_else(missing)?;
            if *place >= tables.len() {
                return Err(missing());
            }
            tables.remove(*place);
            Ok(())
        }
        _ => Err(missing()),
    }
}

/// A text as a value of the old one's kind, or as a string where it is none.
fn typed(old: &Value, text: &str) -> Value {
    let bare = || text.parse::<Value>().ok();
    match old {
        Value::String(_) => text.into(),
        _ => bare()
            .filter(|value| !matches!(value, Value::Array(_) | Value::InlineTable(_)))
            .unwrap_or_else(|| text.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAN: &str = "# the run\n[[source]] # the head\nname = \"head\" # one\n\
        footprint = { shape = \"disc\", radius = \"20 mm\" } # of the target\n\n\
        [[source]]\nname = \"boat\"\n";

    fn key(name: &str) -> Step {
        Step::Key(name.to_owned())
    }

    fn changed(change: &Change) -> String {
        change.of(PLAN).unwrap()
    }

    #[test]
    fn a_key_is_put_into_its_table_and_all_else_stays() {
        let way = vec![key("source"), Step::Place(0)];
        let put = changed(&Change::Put(way.clone(), "correction".into(), "1.1".into()));
        let gap = "\n\n[[source]]\nname = \"boat\"";
        let wanted = PLAN.replace(gap, &format!("\ncorrection = 1.1{gap}"));
        assert_eq!(put, wanted);
        // and the other way round
        let mut steps = way;
        steps.push(key("correction"));
        assert_eq!(Change::Remove(steps).of(&put).unwrap(), PLAN);
    }

    #[test]
    fn another_form_of_a_value_takes_its_place_and_keeps_its_comment() {
        let way = vec![key("source"), Step::Place(0)];
        let ring = "{ shape = \"spot\" }";
        let put = changed(&Change::Put(way, "footprint".into(), ring.into()));
        let wanted = PLAN.replace("{ shape = \"disc\", radius = \"20 mm\" }", ring);
        assert_eq!(put, wanted);
    }

    #[test]
    fn an_entry_goes_with_all_it_has_and_a_table_comes_at_the_end() {
        let gone = changed(&Change::Remove(vec![key("source"), Step::Place(1)]));
        assert!(
            !gone.contains("boat") && gone.contains("# of the target"),
            "{gone}"
        );
        let more = changed(&Change::Append("[gas]\npressure = \"1 Pa\"\n".into()));
        assert_eq!(more, format!("{PLAN}\n[gas]\npressure = \"1 Pa\"\n"));
    }

    #[test]
    fn what_is_not_there_is_a_sentence() {
        for change in [
            Change::Remove(vec![key("source"), Step::Place(7)]),
            Change::Remove(vec![key("gas")]),
            Change::Set(vec![key("title")], "x".into()),
            Change::Put(vec![key("gas")], "pressure".into(), "1".into()),
        ] {
            assert!(
                change.of(PLAN).unwrap_err().contains("no longer"),
                "{change:?}"
            );
        }
    }
}

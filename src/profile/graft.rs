//! Reaching into a tree by a path of keys: what stands there, putting it there, taking it out.

use super::fault::Place;
use super::tree::{Entry, Node, Table, Value};

/// The value at a path; a number in the path counts in a list.
pub(super) fn at<'t>(table: &'t Table, path: &[&str]) -> Option<&'t Value> {
    let (first, rest) = path.split_first()?;
    let value = &table.entry(first)?.node.value;
    match (value, rest) {
        (_, []) => Some(value),
        (Value::Table(inner), _) => at(inner, rest),
        (Value::List(list), [index, rest @ ..]) => match &list.get(index.parse::<usize>().ok()?)?.value {
            Value::Table(inner) if !rest.is_empty() => at(inner, rest),
            other => Some(other),
        },
        _ => None,
    }
}

/// Puts a value at a path, making tables on the way.
pub(super) fn set(table: &mut Table, path: &[&str], value: Value) {
    let Some((first, rest)) = path.split_first() else { return };
    let nowhere = || Place { source: 0, span: 0..0 };
    if table.entry(first).is_none() {
        let node = Node { value: Value::Table(Table::default()), place: nowhere() };
        table.entries.push(Entry { key: (*first).to_owned(), key_place: nowhere(), node });
    }
    let Some(entry) = table.entries.iter_mut().find(|e| e.key == *first) else { return };
    match (&mut entry.node.value, rest) {
        (slot, []) => *slot = value,
        (Value::Table(inner), _) => set(inner, rest, value),
        (Value::List(list), [index, rest @ ..]) => {
            if let Some(Value::Table(inner)) =
                index.parse::<usize>().ok().and_then(|i| list.get_mut(i)).map(|n| &mut n.value)
            {
                set(inner, rest, value);
            }
        }
        _ => {}
    }
}

/// Takes a key out, and its table with it when nothing is left.
pub(super) fn remove(table: &mut Table, path: &[&str]) {
    let Some((first, rest)) = path.split_first() else { return };
    if rest.is_empty() {
        table.entries.retain(|e| e.key != *first);
        return;
    }
    if let Some(entry) = table.entries.iter_mut().find(|e| e.key == *first)
        && let Value::Table(inner) = &mut entry.node.value
    {
        remove(inner, rest);
        if inner.entries.is_empty() {
            table.entries.retain(|e| e.key != *first);
        }
    }
}

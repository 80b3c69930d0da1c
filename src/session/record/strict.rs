//! JSON read strictly: what could be read in two ways is refused.

use serde::de::{DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};
use std::fmt;

/// JSON read strictly: a key given twice, or a whole number beyond 64 bits, is refused rather than bent.
pub fn strict(bytes: &[u8]) -> Result<Value, String> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let value = Strict.deserialize(&mut reader).map_err(|error| plain(&error))?;
    reader.end().map_err(|error| plain(&error))?;
    match oversized_number(bytes) {
        Some(digits) => Err(format!("a whole number of {digits} digits")),
        None => Ok(value),
    }
}

/// The reader's complaint without whatever text of the file it may quote.
pub(super) fn plain(error: &serde_json::Error) -> String {
    let text: String = error.to_string().chars().filter(|c| !c.is_control()).take(120).collect();
    text
}

/// Digits of the first whole number that 64 bits cannot hold, outside strings.
fn oversized_number(bytes: &[u8]) -> Option<usize> {
    let mut rest = bytes.iter().copied().enumerate().peekable();
    let mut in_string = false;
    while let Some((start, byte)) = rest.next() {
        match byte {
            b'\\' if in_string => {
                rest.next();
            }
            b'"' => in_string = !in_string,
            b'-' | b'0'..=b'9' if !in_string => {
                let mut end = start + 1;
                while let Some((at, _)) =
                    rest.next_if(|(_, b)| matches!(b, b'0'..=b'9' | b'.' | b'e' | b'E' | b'+' | b'-'))
                {
                    end = at + 1;
                }
                let text = std::str::from_utf8(bytes.get(start..end)?).ok()?;
                let whole = !text.contains(['.', 'e', 'E']);
                if whole && text.parse::<u64>().is_err() && text.parse::<i64>().is_err() {
                    return Some(text.trim_start_matches('-').len());
                }
            }
            _ => {}
        }
    }
    None
}

struct Strict;

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;
    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<Value, D::Error> {
        from.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;

    fn expecting(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str("JSON")
    }
    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }
    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(value.into())
    }
    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }
    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }
    fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
        Ok(value.into())
    }
    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(value.into())
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(item) = items.next_element_seed(Strict)? {
            list.push(item);
        }
        Ok(Value::Array(list))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut map = Map::new();
        while let Some(key) = entries.next_key::<String>()? {
            if map.contains_key(&key) {
                return Err(serde::de::Error::custom("the same key is given twice"));
            }
            map.insert(key, entries.next_value_seed(Strict)?);
        }
        Ok(Value::Object(map))
    }
}

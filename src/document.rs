//! The envelope of everything a laboratory stores: `{ "kind", "schema", "body" }` as JSON.
//!
//! Floats survive bit for bit. A digest is taken over canonical bytes (keys sorted, no white space), so it does not
//! depend on layout. Reading refuses an unknown field by name, a field given twice, a number that is not finite, and an
//! empty value; an older schema is migrated, a newer one is refused.

use serde::de::{DeserializeOwned, DeserializeSeed, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};

use crate::code::Code;
use crate::error::{Error, Result};

/// Something a laboratory stores: how it is named, and how it turns into plain fields and back.
///
/// ```
/// use beadchem::document::{self, Document};
/// use beadchem::error::Result;
/// #[derive(serde::Serialize, serde::Deserialize)]
/// #[serde(deny_unknown_fields)]
/// struct Oven { temperature_c: f64 }
/// impl Document for Oven {
///     const KIND: &'static str = "oven";
///     const SCHEMA: u32 = 1;
///     type Body = Oven;
///     fn to_body(&self) -> Oven { Oven { temperature_c: self.temperature_c } }
///     fn from_body(body: Oven) -> Result<Oven> { Ok(body) }
/// }
/// let text = document::to_json(&Oven { temperature_c: 105.0 })?;
/// assert_eq!(document::from_json::<Oven>(&text)?.temperature_c, 105.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub trait Document: Sized {
    /// The word in the field `kind`.
    const KIND: &'static str;
    /// The number in the field `schema`, raised whenever the body changes shape.
    const SCHEMA: u32;
    /// The plain fields; derive with `#[serde(deny_unknown_fields)]`.
    type Body: Serialize + DeserializeOwned;
    /// The plain fields of this value.
    fn to_body(&self) -> Self::Body;
    /// The value with these fields, checked as a constructor checks.
    ///
    /// # Errors
    /// Whatever the constructor of the value refuses.
    fn from_body(body: Self::Body) -> Result<Self>;
    /// Turns a body of an older schema into one of the next; called until [`Document::SCHEMA`] is reached.
    ///
    /// # Errors
    /// `document.schema` where no step from that schema is known.
    fn migrate(schema: u32, body: Value) -> Result<Value> {
        let _ = body;
        Err(no_migration::<Self>(schema))
    }
}

/// What is said of a schema from which no step is known.
pub(crate) fn no_migration<D: Document>(schema: u32) -> Error {
    Error::Document {
        code: Code::DocumentSchema,
        place: "schema".to_owned(),
        detail: format!("{} of schema {schema} cannot be brought to schema {}.", D::KIND, D::SCHEMA),
        hint: "Read it with the version of the library that wrote it.".to_owned(),
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Envelope {
    kind: String,
    schema: u32,
    body: Value,
}

/// The document as readable JSON: keys sorted, two spaces of indent, a line feed at the end.
///
/// # Errors
/// `document.not-finite` where a field is NaN, infinite or empty, with the place.
///
/// ```
/// use beadchem::{charge::FluxLot, document};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.003)?;
/// assert!(document::to_json(&lot)?.contains("\"kind\": \"flux-lot\""));
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn to_json<D: Document>(document: &D) -> Result<String> {
    let mut text = String::new();
    write_value(&envelope(document)?, Some(0), &mut text);
    text.push('\n');
    Ok(text)
}

/// SHA-256 of the canonical bytes, as 64 hexadecimal digits.
///
/// # Errors
/// As [`to_json`].
///
/// ```
/// use beadchem::{charge::FluxLot, document};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.003)?;
/// assert_eq!(document::digest(&lot)?.len(), 64);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn digest<D: Document>(document: &D) -> Result<String> {
    let mut text = String::new();
    write_value(&envelope(document)?, None, &mut text);
    Ok(Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect())
}

/// Reads a document of this kind.
///
/// # Errors
/// `document.malformed`, `document.duplicate-key`, `document.not-finite`, `document.kind`, `document.schema`,
/// `document.unknown-field`, each with the place; or whatever the constructor of the value refuses.
///
/// ```
/// use beadchem::{charge::FluxLot, code::Code, document};
/// let refused = document::from_json::<FluxLot>("{\"kind\": \"oven\", \"schema\": 1, \"body\": {}}").unwrap_err();
/// assert_eq!(refused.code(), Code::DocumentKind);
/// ```
pub fn from_json<D: Document>(text: &str) -> Result<D> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = Strict.deserialize(&mut reader).map_err(|error| refused("the text", &error))?;
    reader.end().map_err(|error| refused("the end of the text", &error))?;
    refuse_empty(&value, "")?;
    let envelope: Envelope = from_value(value, "")?;
    if envelope.kind != D::KIND {
        return Err(Error::Document {
            code: Code::DocumentKind,
            place: "kind".to_owned(),
            detail: format!("this is a `{}`, a `{}` is asked for.", envelope.kind, D::KIND),
            hint: "Was another file meant?".to_owned(),
        });
    }
    if envelope.schema > D::SCHEMA {
        return Err(Error::Document {
            code: Code::DocumentSchema,
            place: "schema".to_owned(),
            detail: format!("schema {} is newer than the {} known here.", envelope.schema, D::SCHEMA),
            hint: "Install a newer version of the library.".to_owned(),
        });
    }
    let mut body = envelope.body;
    for schema in envelope.schema..D::SCHEMA {
        body = D::migrate(schema, body)?;
    }
    D::from_body(from_value(body, "body")?)
}

fn envelope<D: Document>(document: &D) -> Result<Value> {
    let body = serde_json::to_value(document.to_body()).map_err(|error| refused("body", &error))?;
    refuse_empty(&body, "body")?;
    let mut map = Map::new();
    map.insert("kind".to_owned(), Value::from(D::KIND));
    map.insert("schema".to_owned(), Value::from(D::SCHEMA));
    map.insert("body".to_owned(), body);
    Ok(Value::Object(map))
}

fn from_value<T: DeserializeOwned>(value: Value, base: &str) -> Result<T> {
    serde_path_to_error::deserialize(value).map_err(|error| {
        let path = error.path().to_string();
        let place = match (base, path.as_str()) {
            ("", ".") => "the document".to_owned(),
            ("", path) => path.to_owned(),
            (base, ".") => base.to_owned(),
            (base, path) => format!("{base}.{path}"),
        };
        refused(&place, error.inner())
    })
}

/// Names the trouble that serde reports as text only.
pub(crate) fn refused(place: &str, error: &serde_json::Error) -> Error {
    let detail = error.to_string();
    let (code, hint) = if detail.contains("unknown field") {
        (Code::DocumentUnknownField, "Is the name misspelt, or the document written by a newer version?")
    } else if detail.contains(TWICE) {
        (Code::DocumentDuplicateKey, "Keep one of the two.")
    } else {
        (Code::DocumentMalformed, "Compare with a document that this version writes.")
    };
    Error::Document { code, place: place.to_owned(), detail: format!("{detail}."), hint: hint.to_owned() }
}

/// JSON has no NaN: serde writes one as null, and no document of ours holds a null otherwise.
fn refuse_empty(value: &Value, place: &str) -> Result<()> {
    match value {
        Value::Null => Err(Error::Document {
            code: Code::DocumentNotFinite,
            place: place.to_owned(),
            detail: "there is no number here (NaN, infinite, or left empty).".to_owned(),
            hint: "Give a finite number, or leave the field out where it may be absent.".to_owned(),
        }),
        Value::Array(items) => {
            items.iter().enumerate().try_for_each(|(index, item)| refuse_empty(item, &format!("{place}[{index}]")))
        }
        Value::Object(map) => map.iter().try_for_each(|(key, item)| {
            refuse_empty(item, &if place.is_empty() { key.clone() } else { format!("{place}.{key}") })
        }),
        _ => Ok(()),
    }
}

/// Writes with sorted keys, whatever order the map keeps; `indent` is the depth, or nothing for canonical bytes.
fn write_value(value: &Value, indent: Option<usize>, text: &mut String) {
    let line = |depth: usize, text: &mut String| {
        if indent.is_some() {
            text.push('\n');
            text.extend(core::iter::repeat_n("  ", depth));
        }
    };
    let depth = indent.unwrap_or(0);
    let inner = indent.map(|depth| depth + 1);
    match value {
        Value::Array(items) if !items.is_empty() => {
            text.push('[');
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    text.push(',');
                }
                line(depth + 1, text);
                write_value(item, inner, text);
            }
            line(depth, text);
            text.push(']');
        }
        Value::Object(map) if !map.is_empty() => {
            let mut entries: Vec<(&String, &Value)> = map.iter().collect();
            entries.sort_by_key(|(key, _)| *key);
            text.push('{');
            for (index, (key, item)) in entries.into_iter().enumerate() {
                if index > 0 {
                    text.push(',');
                }
                line(depth + 1, text);
                text.push_str(&Value::from(key.as_str()).to_string());
                text.push_str(if indent.is_some() { ": " } else { ":" });
                write_value(item, inner, text);
            }
            line(depth, text);
            text.push('}');
        }
        // the spelling of a float is ours, the shortest that reads back, so that no release of a library changes a digest
        Value::Number(number) if number.is_f64() => {
            text.push_str(&number.as_f64().map_or_else(String::new, |float| format!("{float:?}")));
        }
        plain => text.push_str(&plain.to_string()),
    }
}

const TWICE: &str = "is given twice";

/// Reads any JSON value, refusing a key that occurs twice in one object.
struct Strict;

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> core::result::Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;
    fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("a JSON value")
    }
    fn visit_bool<E>(self, value: bool) -> core::result::Result<Value, E> {
        Ok(Value::from(value))
    }
    fn visit_i64<E>(self, value: i64) -> core::result::Result<Value, E> {
        Ok(Value::from(value))
    }
    fn visit_u64<E>(self, value: u64) -> core::result::Result<Value, E> {
        Ok(Value::from(value))
    }
    fn visit_f64<E>(self, value: f64) -> core::result::Result<Value, E> {
        Ok(Value::from(value))
    }
    fn visit_str<E>(self, value: &str) -> core::result::Result<Value, E> {
        Ok(Value::from(value))
    }
    fn visit_unit<E>(self) -> core::result::Result<Value, E> {
        Ok(Value::Null)
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> core::result::Result<Value, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element_seed(Strict)? {
            items.push(item);
        }
        Ok(Value::Array(items))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> core::result::Result<Value, A::Error> {
        let mut map = Map::new();
        while let Some(key) = access.next_key::<String>()? {
            if map.contains_key(&key) {
                return Err(A::Error::custom(format_args!("the field `{key}` {TWICE}")));
            }
            let value = access.next_value_seed(Strict)?;
            map.insert(key, value);
        }
        Ok(Value::Object(map))
    }
}

//! The envelope of stored things.

use beadchem::charge::FluxLot;
use beadchem::code::Code;
use beadchem::document::{self, Document};
use beadchem::error::{Error, Result};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

#[derive(Debug, PartialEq, Serialize, Deserialize, Clone)]
#[serde(deny_unknown_fields)]
struct Readings {
    list: Vec<f64>,
    unit: String,
}

impl Document for Readings {
    const KIND: &'static str = "readings";
    const SCHEMA: u32 = 3;
    type Body = Readings;
    fn to_body(&self) -> Readings {
        self.clone()
    }
    fn from_body(body: Readings) -> Result<Self> {
        Ok(body)
    }
    fn migrate(schema: u32, mut body: serde_json::Value) -> Result<serde_json::Value> {
        let Some(map) = body.as_object_mut() else { return Ok(body) };
        match schema {
            1 => {
                let old = map.remove("values").unwrap_or_default();
                map.insert("list".to_owned(), old);
            }
            _ => {
                map.insert("unit".to_owned(), "cps".into());
            }
        }
        Ok(body)
    }
}

fn readings(list: Vec<f64>) -> Readings {
    Readings { list, unit: "cps".to_owned() }
}

/// A plain generator (Marsaglia's xorshift, 2003), so that the floats are any bit pattern.
fn patterns(mut state: u64, count: usize) -> Vec<f64> {
    let mut list = Vec::with_capacity(count);
    while list.len() < count {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        let value = f64::from_bits(state);
        if value.is_finite() {
            list.push(value);
        }
    }
    list
}

#[test]
fn a_million_floats_survive_bit_for_bit() {
    let mut list = patterns(0x9E37_79B9_7F4A_7C15, 1_000_000);
    list.extend([0.0, -0.0, f64::MIN_POSITIVE, 5e-324, f64::MAX, f64::MIN, 0.1, 1.0 / 3.0]);
    let stored = readings(list);
    let read: Readings = document::from_json(&document::to_json(&stored).unwrap()).unwrap();
    assert_eq!(read.list.len(), stored.list.len());
    assert!(read.list.iter().zip(&stored.list).all(|(a, b)| a.to_bits() == b.to_bits()));
}

#[test]
fn what_is_not_finite_is_refused_with_its_place() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let refused = document::to_json(&readings(vec![1.0, bad])).unwrap_err();
        assert_eq!(refused.code(), Code::DocumentNotFinite);
        assert!(refused.to_string().starts_with("body.list[1]"), "{refused}");
        assert!(document::digest(&readings(vec![bad])).is_err());
    }
}

fn refusal(text: &str) -> Error {
    document::from_json::<Readings>(text).unwrap_err()
}

#[test]
fn what_is_read_is_checked() {
    let with = |body: &str| format!("{{\"kind\": \"readings\", \"schema\": 3, \"body\": {body}}}");
    let cases = [
        (with("{\"list\": [], \"unit\": \"cps\", \"tube\": 1}"), Code::DocumentUnknownField, "`tube`"),
        (with("{\"list\": [], \"list\": [1.0], \"unit\": \"cps\"}"), Code::DocumentDuplicateKey, "`list`"),
        (with("{\"list\": [null], \"unit\": \"cps\"}"), Code::DocumentNotFinite, "body.list[0]"),
        (with("{\"list\": [NaN], \"unit\": \"cps\"}"), Code::DocumentMalformed, "line 1"),
        (with("{\"list\": [1e999], \"unit\": \"cps\"}"), Code::DocumentMalformed, "out of range"),
        (with("{\"list\": [\"1\"], \"unit\": \"cps\"}"), Code::DocumentMalformed, "body.list[0]"),
        (with("{\"list\": []}"), Code::DocumentMalformed, "unit"),
        ("{\"kind\": \"oven\", \"schema\": 3, \"body\": {}}".to_owned(), Code::DocumentKind, "oven"),
        ("{\"kind\": \"readings\", \"schema\": 4, \"body\": {}}".to_owned(), Code::DocumentSchema, "newer"),
        ("{\"kind\": \"readings\", \"schema\": 3, \"body\": {}} x".to_owned(), Code::DocumentMalformed, "trailing"),
        (String::new(), Code::DocumentMalformed, "EOF"),
        ("[]".to_owned(), Code::DocumentMalformed, "the document"),
    ];
    for (text, code, words) in cases {
        let refused = refusal(&text);
        assert_eq!(refused.code(), code, "{text}: {refused}");
        assert!(refused.to_string().contains(words), "{text}: {refused}");
    }
}

#[test]
fn older_schemas_are_migrated_step_by_step() {
    let first = "{\"kind\": \"readings\", \"schema\": 1, \"body\": {\"values\": [1.5]}}";
    assert_eq!(document::from_json::<Readings>(first).unwrap(), readings(vec![1.5]));
    let second = "{\"kind\": \"readings\", \"schema\": 2, \"body\": {\"list\": [1.5]}}";
    assert_eq!(document::from_json::<Readings>(second).unwrap(), readings(vec![1.5]));
    let lot = "{\"kind\": \"flux-lot\", \"schema\": 0, \"body\": {}}";
    assert_eq!(document::from_json::<FluxLot>(lot).unwrap_err().code(), Code::DocumentSchema);
}

#[test]
fn the_digest_is_of_the_canonical_bytes() {
    let canonical = "{\"body\":{\"list\":[0.1,-0.0,1e300,1e-7,5e-324,123456.75],\"unit\":\"cps\"},\"kind\":\"readings\",\"schema\":3}";
    let expected: String = Sha256::digest(canonical.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(document::digest(&readings(vec![0.1, -0.0, 1e300, 1e-7, 5e-324, 123_456.75])).unwrap(), expected);
    let shuffled = "{ \"schema\": 3,\n \"body\": {\"unit\": \"cps\", \"list\": [1e-1, -0.0, 1E300, 0.0000001, 4.9e-324, 1.2345675e5]}, \"kind\": \"readings\" }";
    assert_eq!(document::digest(&document::from_json::<Readings>(shuffled).unwrap()).unwrap(), expected);
}

#[test]
fn a_flux_lot_reads_back_as_itself_whatever_its_parts() {
    for parts in [[35.3, 64.7, 0.1], [1.0, 1.0, 1.0], [0.1, 0.2, 0.7], [66.0, 33.0, 0.7]] {
        let blend = ["Li2B4O7", "LiBO2", "Li2CO3"].into_iter().zip(parts);
        let lot = FluxLot::new("F-1", blend, "1050 C, 18 min", 0.003).unwrap();
        let read: FluxLot = document::from_json(&document::to_json(&lot).unwrap()).unwrap();
        assert_eq!(read, lot);
        assert_eq!(document::digest(&read).unwrap(), document::digest(&lot).unwrap());
    }
}

#[test]
fn a_wrong_object_is_refused_when_read_too() {
    let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003).unwrap();
    let text = document::to_json(&lot).unwrap().replace("0.003", "3.0");
    assert_eq!(document::from_json::<FluxLot>(&text).unwrap_err().code(), Code::NumberOutOfRange);
}

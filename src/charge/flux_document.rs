//! The stored form of a flux lot: schema 2, with purities and several fusion programmes; schema 1 had one programme.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::charge::flux::FluxLot;
use crate::charge::loss_test::LossTest;
use crate::code::Code;
use crate::document::{Document, no_migration};
use crate::error::{Error, Result};
use crate::substance::Formula;
use crate::uncertainty::Estimate;

/// The plain fields of a flux lot.
///
/// ```
/// use beadchem::{charge::FluxLot, document::Document};
/// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?;
/// assert_eq!(FluxLot::from_body(lot.to_body())?, lot);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FluxLotBody {
    name: String,
    blend: Vec<BlendPart>,
    programmes: Vec<Tested>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    blanks: Vec<BlankBody>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct BlendPart {
    species: String,
    share: f64,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    purity: Option<Estimate>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Tested {
    programme: String,
    test: LossTest,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct BlankBody {
    pub(super) species: String,
    pub(super) content: Estimate,
}

impl BlankBody {
    pub(super) fn of((species, content): &(Formula, Estimate)) -> Self {
        Self { species: species.text().to_owned(), content: content.clone() }
    }
}

impl Document for FluxLot {
    const KIND: &'static str = "flux-lot";
    const SCHEMA: u32 = 2;
    type Body = FluxLotBody;
    fn to_body(&self) -> FluxLotBody {
        let parts = self.blend.iter().zip(&self.purities);
        FluxLotBody {
            name: self.name.clone(),
            blend: parts
                .map(|((species, share), purity)| BlendPart {
                    species: species.text().to_owned(),
                    share: *share,
                    purity: purity.clone(),
                })
                .collect(),
            programmes: self
                .programmes
                .iter()
                .map(|(programme, test)| Tested { programme: programme.clone(), test: test.clone() })
                .collect(),
            blanks: self.blanks.iter().map(BlankBody::of).collect(),
        }
    }
    fn from_body(body: FluxLotBody) -> Result<Self> {
        let blend = body.blend.iter().map(|part| (part.species.as_str(), part.share));
        let mut programmes = body.programmes.into_iter();
        let Some(first) = programmes.next() else {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!("The loss of flux lot {}", body.name),
                hint: "Store at least one fusion programme with its loss.".to_owned(),
            });
        };
        let mut lot = FluxLot::new(body.name, blend, first.programme, first.test)?;
        for (part, purity) in body.blend.into_iter().map(|part| part.purity).enumerate() {
            if let Some(purity) = purity {
                lot.set_purity(part, purity)?;
            }
        }
        let lot = programmes.try_fold(lot, |lot, tested| lot.with_programme(tested.programme, tested.test))?;
        body.blanks.into_iter().try_fold(lot, |lot, blank| lot.with_blank(&blank.species, blank.content))
    }
    fn migrate(schema: u32, body: Value) -> Result<Value> {
        match schema {
            1 => Ok(from_schema_1(body)),
            _ => Err(no_migration::<Self>(schema)),
        }
    }
}

/// One programme with its stated loss becomes the first of a list. A field that is missing stays missing and is refused
/// where the body is read.
fn from_schema_1(mut body: Value) -> Value {
    if let Some(map) = body.as_object_mut()
        && let (Some(programme), Some(loss)) = (map.remove("programme"), map.remove("loss"))
    {
        let tested = serde_json::json!({ "programme": programme, "test": { "loss": loss } });
        map.insert("programmes".to_owned(), Value::Array(vec![tested]));
    }
    body
}

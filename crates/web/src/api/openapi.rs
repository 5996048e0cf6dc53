//! The description of the documents in `OpenAPI` 3.1, made from the table of operations.

use axum::Json;
use schemars::JsonSchema as _;
use schemars::generate::SchemaSettings;
use serde_json::{Map, Value, json};

use super::operations::{Operation, all};
use crate::layout::RefusalJson;

/// What every address may answer in place of its document.
const REFUSALS: [(&str, &str); 5] = [
    ("400", "A parameter that cannot be read"),
    ("401", "The token is not that of this launch"),
    ("403", "A page of another site asks"),
    ("404", "The study holds nothing of that name"),
    ("421", "Another host name was asked for"),
];

pub(super) async fn document() -> Json<Value> {
    Json(described())
}

fn described() -> Value {
    let operations = all();
    let paths: Map<String, Value> =
        operations.iter().map(|one| (one.path.to_owned(), json!({ "get": operation(one) }))).collect();
    let schemas = schemas(&operations);
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Stillwell: the documents of a study",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "What `--format json` prints, of the study that is served. Numbers have full precision, and the unit of each stands in its name. Fields are only ever added; `contract` is raised when one changes its meaning."
        },
        "security": [{ "launch": [] }],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": {
                "launch": { "type": "http", "scheme": "bearer", "description": "The token of the address that `stillwell serve` printed" }
            }
        }
    })
}

fn operation(one: &Operation) -> Value {
    let responses: Map<String, Value> = [("200", one.summary)]
        .into_iter()
        .chain(REFUSALS)
        .chain(one.refusals.iter().copied())
        .map(|(status, words)| {
            (status.to_owned(), answer(words, if status == "200" { one.id } else { "refusal" }))
        })
        .collect();
    json!({
        "operationId": one.id,
        "summary": one.summary,
        "parameters": parameters(one),
        "responses": responses,
    })
}

fn answer(words: &str, schema: &str) -> Value {
    json!({
        "description": words,
        "content": { "application/json": { "schema": { "$ref": format!("#/components/schemas/{schema}") } } }
    })
}

fn parameters(one: &Operation) -> Vec<Value> {
    let in_path = one.path.split('/').filter_map(|part| part.strip_prefix('{')?.strip_suffix('}'));
    let in_path = in_path.map(|name| {
        json!({
            "name": name, "in": "path", "required": true, "schema": { "type": "string" },
            "description": format!("The {name} by its number, as the study lists it"), "example": "1"
        })
    });
    let in_query = one.query.iter().map(|(name, words)| {
        json!({ "name": name, "in": "query", "required": false, "schema": { "type": "string" }, "description": words })
    });
    in_path.chain(in_query).collect()
}

/// Every document by its operation's name, beside the parts they share.
fn schemas(operations: &[Operation]) -> Map<String, Value> {
    let mut settings = SchemaSettings::draft2020_12().for_serialize();
    // Parts stand beside the documents; no schema is a document of its own.
    settings.definitions_path = "/components/schemas".into();
    settings.meta_schema = None;
    let mut generator = settings.into_generator();
    let mut documents: Map<String, Value> =
        operations.iter().map(|one| (one.id.to_owned(), (one.shape)(&mut generator).into())).collect();
    documents.insert("refusal".to_owned(), RefusalJson::json_schema(&mut generator).into());
    documents.extend(generator.take_definitions(true));
    documents
}

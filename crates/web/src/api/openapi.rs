//! The description of the documents in `OpenAPI` 3.1, made from the table of operations.

use axum::Json;
use serde_json::{Map, Value, json};

use super::operations::{Operation, all};

pub(super) async fn document() -> Json<Value> {
    Json(described())
}

fn described() -> Value {
    let operations = all();
    let paths: Map<String, Value> =
        operations.iter().map(|one| (one.path.to_owned(), json!({ "get": operation(one) }))).collect();
    let schemas: Map<String, Value> =
        operations.iter().map(|one| (one.id.to_owned(), schema(one))).chain([refusal()]).collect();
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
    let answer = |words: &str, schema: &str| {
        json!({
            "description": words,
            "content": { "application/json": { "schema": { "$ref": format!("#/components/schemas/{schema}") } } }
        })
    };
    json!({
        "operationId": one.id,
        "summary": one.summary,
        "parameters": parameters(one),
        "responses": {
            "200": answer(one.summary, one.id),
            "400": answer("A parameter that cannot be read", "refusal"),
            "401": answer("The token is not that of this launch", "refusal"),
            "403": answer("A page of another site asks", "refusal"),
            "404": answer("The study holds nothing of that name", "refusal"),
            "421": answer("Another host name was asked for", "refusal"),
        }
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

fn schema(one: &Operation) -> Value {
    let properties: Map<String, Value> =
        one.fields.iter().map(|(name, kind)| ((*name).to_owned(), json!({ "type": kind }))).collect();
    let required: Vec<&str> = one.fields.iter().map(|(name, _)| *name).collect();
    json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": true })
}

fn refusal() -> (String, Value) {
    let schema = json!({
        "type": "object",
        "properties": {
            "status": { "type": "integer" },
            "found": { "type": "array", "items": { "type": "string" } },
            "cure": { "type": "string" }
        },
        "required": ["status", "found", "cure"]
    });
    ("refusal".to_owned(), schema)
}

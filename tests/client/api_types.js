// Writes the types of the API's bodies from the OpenAPI document: api/client/api.d.ts. With --check it writes nothing and
// fails where what is committed is another.

import { readFileSync, writeFileSync } from "node:fs";

const root = new URL("../../", import.meta.url);
const document = JSON.parse(readFileSync(new URL("openapi/plumbline.v1.json", root), "utf8"));
const out = new URL("api/client/api.d.ts", root);

const BASIC = { string: "string", integer: "number", number: "number", boolean: "boolean", null: "null" };

const one = (schema, type) => {
  if (type === "array" && schema.prefixItems) {
    return `[${schema.prefixItems.map(typeOf).join(", ")}]`;
  }
  if (type === "array") {
    return `(${typeOf(schema.items ?? {})})[]`;
  }
  if (type === "object") {
    return schema.properties ? fields(schema) : `Record<string, ${typeOf(schema.additionalProperties || {})}>`;
  }
  return BASIC[type] ?? "unknown";
};

/** The type of a schema. */
const typeOf = (schema) => {
  if (schema.$ref) {
    return `Schema["${schema.$ref.split("/").pop()}"]`;
  }
  if (schema.enum || "const" in schema) {
    return (schema.enum ?? [schema.const]).map((value) => JSON.stringify(value)).join(" | ");
  }
  if (schema.oneOf || schema.anyOf) {
    return (schema.oneOf ?? schema.anyOf).map(typeOf).join(" | ");
  }
  if (schema.allOf) {
    return schema.allOf.map((part) => `(${typeOf(part)})`).join(" & ");
  }
  const types = [schema.type ?? (schema.properties ? "object" : "unknown")].flat();
  return types.map((type) => one(schema, type)).join(" | ");
};

const fields = (schema) => {
  const needed = new Set(schema.required);
  const lines = Object.entries(schema.properties).map(([name, of]) =>
    `${JSON.stringify(name)}${needed.has(name) ? "" : "?"}: ${typeOf(of)};`);
  return `{ ${lines.join(" ")} }`;
};

const bodies = Object.entries(document.components.schemas).map(([name, schema]) => `  ${JSON.stringify(name)}: ${typeOf(schema)};`);
const text = `// Made from openapi/plumbline.v1.json by tests/client/api_types.js; \`npm run api\` in that folder makes it anew.

/** Bodies of the API, by the names they have there. */
export interface Schema {
${bodies.join("\n")}
}
`;

if (process.argv.includes("--check")) {
  if (readFileSync(out, "utf8") !== text) {
    process.stderr.write("api/client/api.d.ts is not what the OpenAPI document says: npm run api\n");
    process.exit(1);
  }
} else {
  writeFileSync(out, text);
}

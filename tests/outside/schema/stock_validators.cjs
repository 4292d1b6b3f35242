// Asks two validators about records of a book, from the book's top folder, neither with an option, and prints what they say:
// {"ajv": {file: [complaint…]}, "language-service": {file: [complaint…]}}.
//
//   node stock_validators.cjs NODE_MODULES SCHEMA RECORD…
//
// ajv is given SCHEMA alone. The language service, which editors use, is given each record alone and finds the schema by the
// record's own "$schema" line, as an editor does; it reads files of this folder and fetches nothing.
const fs = require("fs");
const path = require("path");
const url = require("url");
const [modules, schemaFile, ...records] = process.argv.slice(2);
const from = (name) => require(path.join(path.resolve(modules), name));
const Ajv = from("ajv/dist/2020").default;
const service = from("vscode-json-languageservice");

async function main() {
  const said = { ajv: {}, "language-service": {} };
  const validate = new Ajv().compile(JSON.parse(fs.readFileSync(schemaFile, "utf8")));
  const languages = service.getLanguageService({
    schemaRequestService: async (uri) => fs.readFileSync(url.fileURLToPath(uri), "utf8"),
    workspaceContext: { resolveRelativePath: (relative, base) => new URL(relative, base).href },
  });
  for (const record of records) {
    const text = fs.readFileSync(record, "utf8");
    validate(JSON.parse(text));
    said.ajv[record] = (validate.errors || []).map((e) => `${e.instancePath} ${e.message}`);
    const uri = url.pathToFileURL(path.resolve(record)).href;
    const document = service.TextDocument.create(uri, "json", 1, text);
    const found = await languages.doValidation(document, languages.parseJSONDocument(document));
    said["language-service"][record] = found.map((d) => `line ${d.range.start.line + 1}: ${d.message}`);
  }
  process.stdout.write(JSON.stringify(said));
}
main();

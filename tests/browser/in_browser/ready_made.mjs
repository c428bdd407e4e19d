// Runs the page's own Python once, in Node, and keeps what it makes anew at every start: the bytecode of all modules that the lessons
// import, and matplotlib's list of fonts. Writes both as one wheel.   node ready_made.mjs PYODIDE_FOLDER NAMES_OF_PACKAGES WHEEL
import { pathToFileURL } from "node:url";
import { writeFileSync } from "node:fs";
import { join } from "node:path";

const [folder, names, wheel] = process.argv.slice(2);
const { loadPyodide } = await import(pathToFileURL(join(folder, "pyodide.mjs")));
const python = await loadPyodide({ indexURL: folder, packageCacheDir: folder });
await python.loadPackage(names.split(","), { messageCallback: () => {} });
let made;
try {
  made = python.runPython(`
import importlib.util, io, pkgutil, py_compile, sys, zipfile
from pathlib import Path

import helpers
from matplotlib import font_manager

for module in pkgutil.walk_packages(helpers.__path__, "helpers."):
    importlib.import_module(module.name)
site = Path(helpers.__file__).parents[1]
files = {}
for module in list(sys.modules.values()):
    source = Path(getattr(module, "__file__", None) or "")
    if source.suffix == ".py" and source.is_relative_to(site):
        place = importlib.util.cache_from_source(str(source))
        py_compile.compile(str(source), place, doraise=True, invalidation_mode=py_compile.PycInvalidationMode.UNCHECKED_HASH)
        files[Path(place).relative_to(site).as_posix()] = Path(place).read_bytes()
fonts = Path(font_manager.__file__).with_name("fontlist.json")  # where Pyodide's matplotlib looks for it
files[fonts.relative_to(site).as_posix()] = fonts.read_bytes()
about = "ready_made-0.dist-info"
files[f"{about}/METADATA"] = b"Metadata-Version: 2.1\\nName: ready_made\\nVersion: 0\\n"
files[f"{about}/WHEEL"] = b"Wheel-Version: 1.0\\nGenerator: ready_made.mjs\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n"
files[f"{about}/RECORD"] = "".join(f"{name},,\\n" for name in (*files, f"{about}/RECORD")).encode()
out = io.BytesIO()
with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
    for name, content in files.items():
        packed.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
out.getvalue()
`);
} catch (trouble) {
  const said = String(trouble.message).trim().split("\n");
  console.error(said.findLast((line) => /^\w+(Error|Exception)\b/.test(line)) ?? said.at(-1)); // what follows it is Pyodide's advice
  process.exit(1);
}
writeFileSync(wheel, made.toJs());

"""From the outermost form of an EDIF file to its netlist: version and levels, libraries, and the cell on top."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from placer.circuit.edif.cells import REMARKS, CellReader
from placer.circuit.edif.forms import Form, Text, Word
from placer.circuit.edif.model import Cell, CellRef, Library, Name, Netlist, View
from placer.circuit.edif.names import Names
from placer.circuit.edif.nets import NetReader
from placer.circuit.edif.properties import properties_of
from placer.circuit.problems import Problems

VERSION = ("2", "0", "0")
_OTHER_LEVELS = "write the file as EDIF 2 0 0, level 0, with keyword level 0"


def read_netlist(root: Form, text: Text, problems: Problems) -> Netlist | None:
    """Return what the outermost form tells, or None with errors recorded."""
    return _Design(root, text, problems).read()


class _Design:
    def __init__(self, root: Form, text: Text, problems: Problems) -> None:
        self._root = root
        self._problems = problems
        self._names = Names(text, problems)
        self._cells = CellReader(self._names)
        self._libraries: dict[str, Library] = {}

    def read(self) -> Netlist | None:
        if self._root.keyword != "edif":
            message = f"an EDIF file begins with (edif ...); found ({self._root.keyword} ...)"
            self._names.error("edif-no-form", message, self._root.at, "check that this is an EDIF file")
            return None
        self._check_head()
        if self._problems.any:
            return None  # what another version or level means by the rest is not known
        name = self._names.defined(self._root)
        for form in self._root.items[1:]:
            if isinstance(form, Form):
                self._section(form)
        self._read_nets()
        top = self._top()
        if name is None or top is None:
            return None
        design = self._root.first("design")
        if design is None:
            return Netlist(name, self._libraries, top)
        return Netlist(self._names.defined(design) or name, self._libraries, top, properties_of(design, self._names))

    def _check_head(self) -> None:
        version = self._root.first("edifversion")
        if version is None:
            message = "the file does not say its (edifVersion ...); EDIF 2 0 0 is read"
            self._names.error("edif-version", message, self._root.at, "add (edifVersion 2 0 0) if that is what it is")
        elif (found := _words(version)) != VERSION:
            message = f"this is EDIF {' '.join(found[:3]) or 'of no version'}; 2 0 0 is read"
            self._names.error("edif-version", message, version.at, "write the file as EDIF 2 0 0")
        level = self._root.first("ediflevel")
        if level is not None and _words(level) != ("0",):
            message = f"this is EDIF of level {' '.join(_words(level)[:1]) or '(none)'}; level 0 is read"
            self._names.error("edif-level", message, level.at, _OTHER_LEVELS)
        keywords = self._root.first("keywordmap")
        if keywords is not None:
            self._check_keywords(keywords)

    def _check_keywords(self, form: Form) -> None:
        level = form.first("keywordlevel")
        if level is not None and _words(level) != ("0",):
            message = f"keywords of level {' '.join(_words(level)[:1]) or '(none)'}; level 0 is read"
            self._names.error("edif-keyword-level", message, level.at, _OTHER_LEVELS)
        for item in form.items:
            if isinstance(item, Form) and item.keyword not in ("keywordlevel", "comment"):
                message = f"({item.keyword} ...) defines keywords of the file's own, which are not read"
                self._names.error("edif-keyword-level", message, item.at, _OTHER_LEVELS)

    def _section(self, form: Form) -> None:
        if form.keyword in ("library", "external"):
            self._library(form)
        elif form.keyword not in ("edifversion", "ediflevel", "keywordmap", "design") and form.keyword not in REMARKS:
            near = self._problems.nearest(form.keyword, ("library", "external", "design"))
            message = f"({form.keyword} ...) is not known in a netlist"
            if near:
                self._names.error("edif-unknown-form", message, form.at, f"did you mean ({near} ...)?")
            else:
                self._names.warn("edif-unknown-form", f"{message}, and left out with everything in it", form.at)

    def _library(self, form: Form) -> None:
        name = self._names.defined(form)
        if name is None:
            return
        level = form.first("ediflevel")
        if level is not None and _words(level) != ("0",):
            message = f"library {name.text} is of level {' '.join(_words(level)[:1]) or '(none)'}; level 0 is read"
            self._names.error("edif-level", message, level.at, _OTHER_LEVELS)
            return
        if name.key in self._libraries:
            message = f"library {name.text} is there twice; names are equal whatever their capitals"
            self._names.error("edif-name-twice", message, name.at, "rename one of the two")
            return
        cells: dict[str, Cell] = {}
        for inner in form.forms("cell"):
            cell = self._cells.cell(inner, name.key)
            if cell is not None and cell.name.key in cells:
                message = f"cell {cell.name.text} is in library {name.text} twice"
                self._names.error("edif-name-twice", message, cell.name.at, "rename one of the two")
            elif cell is not None:
                cells[cell.name.key] = cell
        self._libraries[name.key] = Library(name, cells, form.keyword == "external")

    # --- nets, when all ports are known ----------------------------------------------------------------------------

    def _read_nets(self) -> None:
        reader = NetReader(self._names, self._ports_of)
        missing: set[CellRef] = set()
        for key, library in self._libraries.items():
            cells = {}
            for cell_key, cell in library.cells.items():
                views = {}
                for view_key, view in cell.views.items():
                    for instance in view.instances.values():
                        self._check_reference(instance.of, missing)
                    nets, refusals = reader.read(view, self._cells.net_forms.get((key, cell_key, view_key), ()))
                    views[view_key] = replace(view, nets=nets, refusals=(*view.refusals, *refusals))
                cells[cell_key] = replace(cell, views=views)
            self._libraries[key] = replace(library, cells=cells)

    def _ports_of(self, ref: CellRef) -> Mapping[str, Name] | None:
        view = self._view(ref)
        return view.ports if view is not None else None

    def _view(self, ref: CellRef) -> View | None:
        library = self._libraries.get(ref.library)
        cell = library.cells.get(ref.cell) if library is not None else None
        return cell.views.get(ref.view) if cell is not None else None

    def _check_reference(self, ref: CellRef, missing: set[CellRef]) -> None:
        """Say that a cell, or its view, is missing; once for each."""
        plain = replace(ref, at=0)
        if plain in missing or self._view(ref) is not None:
            return
        missing.add(plain)
        library = self._libraries.get(ref.library)
        cell = library.cells.get(ref.cell) if library is not None else None
        if library is None:
            near = self._problems.did_you_mean(ref.library, self._libraries)
            self._names.error("edif-unknown-cell", f"there is no library {ref.library}", ref.at, near)
        elif cell is None:
            near = self._problems.did_you_mean(ref.cell, library.cells)
            self._names.error("edif-unknown-cell", f"library {library.name.text} has no cell {ref.cell}", ref.at, near)
        else:
            message = f"cell {cell.name.text} has no view {ref.view or 'at all'}"
            self._names.error("edif-unknown-cell", message, ref.at, self._problems.did_you_mean(ref.view, cell.views))

    # --- the top ---------------------------------------------------------------------------------------------------

    def _top(self) -> CellRef | None:
        designs = self._root.forms("design")
        if len(designs) > 1:
            message = f"the file holds {len(designs)} designs; one is read"
            self._names.error("edif-two-designs", message, designs[1].at, "keep one (design ...)")
            return None
        if not designs:
            return self._only_root()
        cell = designs[0].first("cellref")
        if cell is None:
            message = "the design does not name its cell"
            self._names.error("edif-no-design", message, designs[0].at, "expected (cellRef CELL (libraryRef LIBRARY))")
            return None
        ref = self._cells.cell_reference(cell, "")
        if ref is None:
            return None
        if not ref.library:
            holders = [key for key, library in self._libraries.items() if ref.cell in library.cells]
            ref = replace(ref, library=holders[0] if holders else "")
        library = self._libraries.get(ref.library)
        if library is None or ref.cell not in library.cells:
            self._check_reference(ref, set())
            return None
        return self._with_view(ref)

    def _with_view(self, ref: CellRef) -> CellRef | None:
        """Return the reference with the view of the cell that tells its inside."""
        views = self._libraries[ref.library].cells[ref.cell].views
        full = [key for key, view in views.items() if view.has_contents] or list(views)
        if len(full) == 1:
            return replace(ref, view=full[0])
        cell = self._libraries[ref.library].cells[ref.cell].name.text
        message = f"cell {cell}, the design, has {len(full)} views that may be meant; one is expected"
        self._names.error("edif-no-design", message, ref.at, "leave one view with contents")
        return None

    def _only_root(self) -> CellRef | None:
        """Without a design: the one cell with contents that no other uses."""
        used = {
            (each.of.library, each.of.cell)
            for library in self._libraries.values()
            for cell in library.cells.values()
            for view in cell.views.values()
            for each in view.instances.values()
        }
        found = [
            CellRef(key, cell_key, view_key, cell.name.at)
            for key, library in self._libraries.items()
            for cell_key, cell in library.cells.items()
            for view_key, view in cell.views.items()
            if view.has_contents and (key, cell_key) not in used
        ]
        if len(found) == 1:
            name = self._libraries[found[0].library].cells[found[0].cell].name.text
            message = f"the file has no (design ...); cell {name}, which no other uses, is taken"
            self._names.warn("edif-no-design", message, found[0].at)
            return found[0]
        message = f"the file has no (design ...), and {len(found)} cells with contents that no other uses"
        self._names.error("edif-no-design", message, self._root.at, "add (design NAME (cellRef CELL (libraryRef LIB)))")
        return None


def _words(form: Form) -> tuple[str, ...]:
    return tuple(item.text for item in form.items if isinstance(item, Word))

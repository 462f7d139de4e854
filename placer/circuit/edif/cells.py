"""From forms to cells: the ports, instances and nets that each view of a cell tells."""

from __future__ import annotations

from typing import TypeVar

from placer.circuit.edif.forms import Form, Word
from placer.circuit.edif.model import Cell, CellRef, Instance, Name, Refusal, View
from placer.circuit.edif.names import Names
from placer.circuit.edif.properties import properties_of, text_of

T = TypeVar("T")

# Keywords of EDIF 2 0 0 that tell of pictures, times, tests and remarks; nothing electrical is lost without them.
REMARKS = frozenset({
    "acload", "annotate", "apply", "arrayrelatedinfo", "boundingbox", "color", "comment", "commentgraphics",
    "criticality", "currentmap", "dcfaninload", "dcfanoutload", "dcmaxfanin", "dcmaxfanout", "delay",
    "designator", "direction", "display", "dominates", "entry", "figure", "figuregroup", "follow", "initial",
    "instancebackannotate", "keepout", "loaddelay", "logicassign", "logicinput", "logiclist", "logicmapinput",
    "logicmapoutput", "logicone", "logicoutput", "netbackannotate", "netdelay", "netmap", "nonpermutable",
    "parameter", "parameterassign", "pathdelay", "permutable", "physicaldesignrule", "portbackannotate",
    "portdelay", "portimplementation", "portinstance", "portlistalias", "property", "protectionframe",
    "simulate", "site", "socket", "status", "symbol", "tabledelay", "technology", "timing", "transform",
    "unconstrained", "unused", "userdata", "valuenameref", "viewmap", "voltagemap", "when", "written",
})  # fmt: skip


class CellReader:
    """Reads cells; ``library`` is the key of the library they stand in.

    ``net_forms``: the nets of each view, by library, cell and view, to be read when all ports are known.
    """

    def __init__(self, names: Names) -> None:
        self.net_forms: dict[tuple[str, str, str], list[Form]] = {}
        self._names = names
        self._unknown: set[str] = set()

    def cell(self, form: Form, library: str) -> Cell | None:
        """Return the cell that a form defines; None, or a view left out, with an error recorded."""
        name = self._names.defined(form)
        if name is None:
            return None
        views: dict[str, View] = {}
        for inner in form.items[1:]:
            if not isinstance(inner, Form):
                continue
            if inner.keyword == "view":
                view = self._view(inner, library, name.key)
                if view is not None:
                    self._enter(views, view.name, view, "view", f"cell {name.text}")
            elif inner.keyword not in ("celltype", "array"):
                self._other(inner, "a cell", ("view", "cellType"))
        return Cell(name, views)

    def _view(self, form: Form, library: str, cell: str) -> View | None:
        name = self._names.defined(form)
        if name is None:
            return None
        kind_form = form.first("viewtype")
        kind_word = kind_form.items[0] if kind_form is not None and kind_form.items else None
        kind = kind_word.text.upper() if isinstance(kind_word, Word) else "NETLIST"
        refusals: list[Refusal] = []
        if kind not in ("NETLIST", "SCHEMATIC"):
            what = f"view {name.text} is of type {kind}, which tells no netlist; NETLIST is read"
            refusals.append(Refusal("edif-view-type", what, "write the file with netlist views", form.at))
        ports: dict[str, Name] = {}
        instances: dict[str, Instance] = {}
        for interface in form.forms("interface"):
            self._interface(interface, ports, refusals)
        contents = form.forms("contents")
        if kind in ("NETLIST", "SCHEMATIC"):
            for each in contents:
                self._instances(each, library, instances, refusals)
            self.net_forms[library, cell, name.key] = [
                inner for each in contents for inner in each.forms("net", "netbundle")
            ]
        for inner in form.items[1:]:
            if isinstance(inner, Form) and inner.keyword not in ("viewtype", "interface", "contents"):
                self._other(inner, "a view", ("viewType", "interface", "contents"))
        has_contents = any(each.items for each in contents)
        return View(name, kind, ports, instances, (), has_contents, tuple(refusals))

    def _interface(self, form: Form, ports: dict[str, Name], refusals: list[Refusal]) -> None:
        for inner in form.items:
            if not isinstance(inner, Form):
                continue
            if inner.keyword == "port":
                name = self._names.defined(inner)
                if name is not None:
                    self._enter(ports, name, name, "port", "the interface")
            elif inner.keyword == "portbundle":
                what = "a bundle of ports is not read"
                refusals.append(Refusal("edif-not-read", what, "write the file with single ports or arrays", inner.at))
            elif inner.keyword in ("joined", "mustjoin", "weakjoined"):
                what = f"({inner.keyword} ...) in an interface joins ports inside the part, which is not read"
                refusals.append(Refusal("edif-not-read", what, "the package says what a part joins inside", inner.at))
            else:
                self._other(inner, "an interface", ("port",))

    def _instances(self, form: Form, library: str, instances: dict[str, Instance], refusals: list[Refusal]) -> None:
        for inner in form.items:
            if not isinstance(inner, Form):
                continue
            if inner.keyword == "instance":
                instance = self._instance(inner, library, refusals)
                if instance is not None:
                    self._enter(instances, instance.name, instance, "instance", "the contents")
            elif inner.keyword in ("page", "section"):
                what = f"({inner.keyword} ...): contents drawn on pages are not read, only plain netlists"
                refusals.append(
                    Refusal("edif-pages", what, "write the file as a netlist, not as a schematic", inner.at)
                )
            elif inner.keyword == "offpageconnector":
                what = "an off-page connector joins nets by its name, which is not read"
                refusals.append(
                    Refusal("edif-pages", what, "write the file as a netlist, not as a schematic", inner.at)
                )
            elif inner.keyword not in ("net", "netbundle"):
                self._other(inner, "contents", ("instance", "net", "netBundle"))

    def _instance(self, form: Form, library: str, refusals: list[Refusal]) -> Instance | None:
        name = self._names.defined(form)
        if name is None:
            return None
        of = self._reference(form, name, library, refusals)
        if of is None:
            return None
        mark = form.first("designator")
        return Instance(
            name, of, properties_of(form, self._names), text_of(mark.items[0]) if mark and mark.items else ""
        )

    def _reference(self, form: Form, name: Name, library: str, refusals: list[Refusal]) -> CellRef | None:
        view = form.first("viewref")
        if view is None:
            if form.first("viewlist") is not None:
                what = f"instance {name.text} has a list of views; one (viewRef ...) is read"
                refusals.append(Refusal("edif-not-read", what, "write the file with one view an instance", form.at))
                return None
            message = f"instance {name.text} does not say which cell it is"
            self._names.error("edif-no-cell", message, form.at, "expected (viewRef VIEW (cellRef CELL ...))")
            return None
        cell = view.first("cellref")
        if cell is None:
            message = f"instance {name.text} names a view and no cell"
            self._names.error("edif-no-cell", message, view.at, "expected (viewRef VIEW (cellRef CELL ...))")
            return None
        return self.cell_reference(cell, library, view)

    def cell_reference(self, cell: Form, library: str, view: Form | None = None) -> CellRef | None:
        """Return what ``(cellRef CELL (libraryRef LIBRARY))`` means; ``library``: where none is named."""
        own = self._names.used(cell)
        seen = self._names.used(view) if view is not None else None
        if own is None or (view is not None and seen is None):
            return None
        of_library = cell.first("libraryref")
        if of_library is not None:
            found = self._names.used(of_library)
            if found is None:
                return None
            library = found[0].key
        return CellRef(library, own[0].key, seen[0].key if seen else "", own[0].at)

    def _enter(self, into: dict[str, T], name: Name, item: T, what: str, where: str) -> None:
        if name.key in into:
            message = f"{what} {name.text} is in {where} twice; names are equal whatever their capitals"
            self._names.error("edif-name-twice", message, name.at, "rename one of the two")
        else:
            into[name.key] = item

    def _other(self, form: Form, where: str, known: tuple[str, ...]) -> None:
        """Leave out what is known to say nothing electrical; of anything else say so, once for each keyword."""
        if form.keyword in REMARKS or form.keyword in self._unknown:
            return
        self._unknown.add(form.keyword)
        near = self._names.nearest(form.keyword, known)
        if near:
            message = f"({form.keyword} ...) is not known in {where}"
            self._names.error("edif-unknown-form", message, form.at, f"did you mean ({near} ...)?")
        else:
            message = f"({form.keyword} ...) is not known in {where}, and left out with everything in it"
            self._names.warn("edif-unknown-form", message, form.at, f"known are {', '.join(known)}")

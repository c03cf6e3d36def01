"""The fields of a description, a table at a time, beside its text."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import ipywidgets as w

from mechlogic.describing.draft import ASSEMBLIES, Draft, DraftError, Field, Where
from mechlogic.model.laws import JOINTS
from mechlogic.model.outputs import OUTPUTS
from mechlogic.widgets.screen import button, labelled, replace_children, row, said
from mechlogic.widgets.turns import Says, in_turn

TOPS = {
    "machine": "the machine",
    "efforts_min": "minutes of checks",
    "cycle": "speed",
    "tolerances": "tolerances",
    "codes": "codes",
}
"""What a person calls the tables that are not of one part."""

LABEL = "150px"
"""How wide the label of a field is."""


class DescriptionForm(w.VBox):  # type: ignore[misc]
    """A description as a form: choose a table, fill in its fields, add and remove.

    Args:
        text: The description to begin with.
        changed: Called with the text after every change that was made here.
        screen: Says so if something fails.
    """

    def __init__(self, text: str, changed: Callable[[str], None], screen: Says) -> None:
        self._changed, self._screen, self._filling = changed, screen, False
        self._said: list[tuple[Field, w.Widget, w.HTML]] = []
        self.table = _dropdown("Table", [])
        self.table.observe(in_turn(lambda _: self._lay_out(), screen), "value")
        self.name = _line("Name", "bar2")
        self.bars = _line("Its bars", "bar1, bar2")
        self.joint = _dropdown("Moved by", [(_first(JOINTS[name]), name) for name in JOINTS])
        self.assembly = _dropdown("Assembly", list(ASSEMBLIES))
        self.prints = _dropdown("Prints with", [(_first(OUTPUTS[name]), name) for name in OUTPUTS])
        grid = {"grid_template_columns": "repeat(auto-fit, minmax(min(100%, 330px), 1fr))"}
        self.fields, self.below = w.GridBox(layout=grid), w.VBox()
        self.page = w.HTML()
        adding = w.VBox(
            [
                row(self.joint, self.name, self._button("Add a part", self._add_part)),
                row(self.assembly, self.bars, self._button("Add it", self._add_assembly)),
                row(self.prints, self._button("Add this table", self._add_output)),
            ]
        )
        more = w.Accordion([adding], titles=["Add parts and tables"])
        super().__init__([more, self.table, self.fields, self.below, self.page])
        self.draft: Draft | None = None
        self.show(text)

    def _button(self, does: str, act: Callable[[], None]) -> w.Button:
        return button(does, in_turn(act, self._screen))

    # -- showing -----------------------------------------------------------------------------------

    def show(self, text: str) -> None:
        """Show a text that was changed elsewhere; the table that is open stays open."""
        if self.draft is not None and text == self.draft.text:
            return
        try:
            draft = Draft(text)
        except DraftError as error:
            self.draft = None
            replace_children(self.fields, ())
            replace_children(self.below, ())
            words = f"The text cannot be read as a form yet: {error}."
            self.page.value = said("sentence", words)
            return
        self._take(draft)

    def _take(self, draft: Draft, opened: Where | None = None) -> None:
        """Show another state of the description, with the same table open or another one."""
        self.draft = draft
        tables = [*draft.tables]
        wanted = opened or self.table.value
        options = [(_called(draft, where), where) for where in tables]
        same = tuple(options) == tuple(self.table.options) and wanted == self.table.value
        if not same:
            self._filling = True  # so the fields are laid out once, and not for each step of this
            self.table.options = options
            if tables:
                self.table.value = wanted if wanted in tables else tables[0]
            self._filling = False
        if not same or not tables or not self._refreshed(draft):
            self._lay_out()

    def _refreshed(self, draft: Draft) -> bool:
        """Whether the fields that are shown are those of the draft; what is wrong is told anew."""
        fields = draft.fields(self.table.value, draft.wrong())
        if [field.key for field in fields] != [field.key for field, _, _ in self._said]:
            return False
        self._filling = True
        for field, (_, control, told) in zip(fields, self._said, strict=True):
            control.value, told.value = field.said, _help(field)
        self._filling = False
        return True

    def _lay_out(self) -> None:
        """A control for each field of the table that is chosen."""
        draft, where = self.draft, self.table.value
        if draft is None or self._filling:
            return
        if where is None:
            replace_children(self.fields, ())
            replace_children(self.below, ())
            return
        self._said = [
            (field, self._control(field), w.HTML(_help(field)))
            for field in draft.fields(where, draft.wrong())
        ]
        rows = [w.VBox([control, told]) for _, control, told in self._said]
        lists = [
            self._button(f"Add to {key.name}", partial(self._add_entry, key.name))
            for key in draft.lists(where)
            if key.kind == "tables" or key.name not in {*map(str, _below(draft, where))}
        ]
        replace_children(self.fields, rows)
        replace_children(self.below, [row(*lists, *self._for_table(where))])

    def _for_table(self, where: Where) -> list[w.Widget]:
        """What can be done with the whole table."""
        found = []
        if len(where) == 2 and where[0] == "parts":
            part = str(where[1])
            times = w.BoundedIntText(1, min=1, max=64, layout={"width": "60px"})
            times.tooltip = "How many copies"
            name = _line("New name", part)
            found += [
                self._button("Copy", lambda: self._do(lambda d: d.copied(part, times.value))),
                times,
                self._button("Up", lambda: self._do(lambda d: d.moved(part, -1))),
                self._button("Down", lambda: self._do(lambda d: d.moved(part, 1))),
                name,
                self._button("Rename", lambda: self._rename(part, name.value)),
            ]
        if where == ("codes",):
            found.append(self._button("Take what it prints now", self._claim))
        if where[0] not in ("machine", "codes") or len(where) > 1:
            found.append(self._button("Remove", lambda: self._do(lambda d: d.without(where))))
        return found

    def _control(self, field: Field) -> w.Widget:
        key, draft = field.key, self.draft
        assert draft is not None
        if key.choices and field.said in ("", *key.choices) and key.kind == "text":
            options = [("", ""), *((name, name) for name in key.choices)]
            if key.name == "joint":
                options = [(f"{name}: {_first(JOINTS[name])}", name) for name in key.choices]
            box = _dropdown(key.name, options, field.said)
        else:
            kind, more = w.Text, dict[str, Any]()
            if "texts" in key.kind or key.name == "about":
                kind, more = w.Textarea, {"rows": 4}
            elif key.kind == "part":
                kind, more = w.Combobox, {"options": draft.parts}
            more |= {"value": field.said, "continuous_update": False}
            box = labelled(kind, key.name, label=LABEL, **more)
        write = in_turn(lambda change: self._write(key.name, change["new"]), self._screen)
        box.observe(write, "value")
        return box

    # -- changing ----------------------------------------------------------------------------------

    def _do(
        self, change: Callable[[Draft], Draft], opened: Callable[[Draft], Where] | None = None
    ) -> None:
        """Change the description; then open another table of it, if that is said."""
        if self.draft is None:
            return
        self.page.value = ""
        draft = change(self.draft)
        self._take(draft, opened(draft) if opened else None)
        self._changed(draft.text)

    def _write(self, name: str, said: str) -> None:
        where = self.table.value
        if not self._filling:
            self._do(lambda draft: draft.written(where, name, said))

    def _add_part(self) -> None:
        name = _as_name(self.name.value) or "part"
        joint = self.joint.value
        self._do(lambda draft: draft.with_part(name, joint), lambda new: ("parts", new.parts[-1]))

    def _add_assembly(self) -> None:
        bars = [bar for one in self.bars.value.split(",") if (bar := _as_name(one))]
        self._do(lambda draft: draft.with_assembly(self.assembly.value, bars))

    def _add_output(self) -> None:
        name = self.prints.value
        if self.draft and (name,) not in self.draft.tables:
            self._do(lambda draft: draft.with_table(name), lambda _: (name,))

    def _add_entry(self, name: str) -> None:
        where = self.table.value
        last = len(where)
        self._do(
            lambda draft: draft.with_entry(where, name),
            lambda new: [one for one in _tables_below(new, where) if one[last] == name][-1],
        )

    def _rename(self, old: str, new: str) -> None:
        name = _as_name(new)
        if self.draft and (not name or name in self.draft.parts):
            self.page.value = said("sentence", "Give a short name that no part has yet.")
            return
        self._do(lambda draft: draft.renamed(old, name), lambda _: ("parts", name))

    def _claim(self) -> None:
        before = self.draft
        self._do(lambda draft: draft.claiming())
        if before is not None and self.draft is before:
            words = "First mend the parts: then it can be said what they print."
            self.page.value = said("sentence", words)


def _tables_below(draft: Draft, where: Where) -> list[Where]:
    return [one for one in draft.tables if one[: len(where)] == where and one != where]


def _below(draft: Draft, where: Where) -> list[str | int]:
    return [one[len(where)] for one in _tables_below(draft, where)]


def _called(draft: Draft, where: Where) -> str:
    """What a person calls a table."""
    if where[0] != "parts":
        name = TOPS.get(str(where[0]), f"what it prints with: {where[0]}")
        return name if len(where) == 1 else f"– {where[1]} {_number(where[2:])}"
    if len(where) == 2:
        return f"part {where[1]}"
    return f"– {where[2]} {_number(where[3:])}of {where[1]}"


def _number(rest: Where) -> str:
    return f"{int(rest[0]) + 1} " if rest else ""


def _help(field: Field) -> str:
    """What a field is for, and what is wrong with it."""
    missing = field.key.needed and not field.said
    return said(
        "field", field.key.says.replace("`", ""), "It must be given." if missing else field.wrong
    )


def _first(kind: type[object]) -> str:
    """The first sentence of what a class says of itself."""
    return " ".join((kind.__doc__ or "").split("\n\n")[0].split()).split(". ")[0].rstrip(".")


def _as_name(said: str) -> str:
    """A text as the name of a part: letters, digits and underscores."""
    name = "".join(c if c.isascii() and c.isalnum() else "_" for c in said.strip()).strip("_")
    return name if name[:1].isalpha() else f"part_{name}" if name else ""


def _dropdown(label: str, options: Sequence[object], value: object = None) -> w.Dropdown:
    chosen: dict[str, Any] = {} if value is None else {"value": value}
    return labelled(w.Dropdown, label, label=LABEL, options=options, **chosen)


def _line(label: str, placeholder: str) -> w.Text:
    return labelled(w.Text, label, "240px", placeholder=placeholder)

"""Changes to a garden file that keep every remark of its owner: trees and covers added, removed, renamed."""

from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.items import AoT, Comment, Table, Whitespace

from bot.settings.writing import Edit, refused


def adding_tree(values: Mapping[str, Any]) -> Edit:
    """One more tree, with the keys of the garden file, after the last."""

    def edit(document: TOMLDocument) -> None:
        trees = _trees(document)
        table = tomlkit.table()
        for key, value in values.items():
            table.add(key, value)
        _add_after(list(trees), table)
        trees.append(table)

    return edit


def removing_tree(name: str) -> Edit:
    """A tree taken out; what named it as its twin names it no more."""

    def edit(document: TOMLDocument) -> None:
        trees = _trees(document)
        at = _index(trees, name)
        if len(trees) == 1:
            raise refused(f'"{name}" is the only tree; a garden needs at least one')
        after = _taken_tail(trees[at])
        for tree in trees:
            if tree.get("twin") == name:
                tree.remove("twin")
        if after and at > 0:
            own = [item for item in _taken_tail(trees[at - 1]) if not isinstance(item, Whitespace)]
            _give_tail(trees[at - 1], [*own, *after])
        del trees[at]

    return edit


def renaming_tree(old: str, new: str) -> Edit:
    """A tree under a new name, also where another names it as its twin."""

    def edit(document: TOMLDocument) -> None:
        trees = _trees(document)
        trees[_index(trees, old)]["name"] = new
        for tree in trees:
            if tree.get("twin") == old:
                tree["twin"] = new

    return edit


def adding_covered_tree(values: Mapping[str, Any], cover: str | None, cover_values: Mapping[str, Any]) -> Edit:
    """One more tree, under the cover of that name; None is a tree without one."""

    def edit(document: TOMLDocument) -> None:
        adding_tree(values)(document)
        if cover is not None:
            covering_tree(str(values["name"]), cover, cover_values)(document)

    return edit


def covering_tree(name: str, cover: str, values: Mapping[str, Any], *, afresh: bool = False) -> Edit:
    """A tree under the cover of that name, which is made of `values`, or changed by them if there is one.

    `afresh` forgets what else was written of that cover.
    """

    def edit(document: TOMLDocument) -> None:
        trees = _trees(document)
        _set(trees[_index(trees, name)], "cover", cover)
        _set_cover(document, cover, values, afresh=afresh)

    return edit


def setting_values(values: Sequence[tuple[str, str, str, Any]]) -> Edit:
    """Keys set, each as (table, tree, key, value): in a table such as `units`, of a tree, or of the garden itself."""

    def edit(document: TOMLDocument) -> None:
        for table, tree, key, value in values:
            if tree:
                trees = _trees(document)
                _set(trees[_index(trees, tree)], key, value)
            elif table:
                if table not in document:
                    document[table] = tomlkit.table()
                _set(document[table], key, value)
            elif key in document:
                document[key] = value
            else:
                _first(document, key, value)

    return edit


def stocking(kind: str, count: float) -> Edit:
    """How many pieces of one supply lie in the shed."""

    def edit(document: TOMLDocument) -> None:
        shed = document.get("shed")
        if shed is None:
            shed = document["shed"] = tomlkit.table()
        if "have" not in shed:
            shed["have"] = tomlkit.inline_table()
        shed["have"][kind] = count

    return edit


def _first(document: TOMLDocument, key: str, value: Any) -> None:
    """A new key of the garden itself, right after its name: behind a table it would belong to that."""
    own = tomlkit.item(value)
    at = next((i for i, (one, _) in enumerate(document.body) if one is not None and one.key == "name"), -1)
    document._insert_at(at + 1, key, own)


def _set_cover(document: TOMLDocument, cover: str, values: Mapping[str, Any], *, afresh: bool) -> None:
    """The table of one cover made, or its keys changed; of two spellings of one size the new one stays."""
    covers = document.get("covers")
    if covers is None:
        covers = tomlkit.table(is_super_table=True)
        document["covers"] = covers
    table = covers.get(cover)
    if table is None:
        table = tomlkit.table()
        _add_after([one for one in covers.values() if isinstance(one, Table)], table)
        covers[cover] = table
    for key in [one for one in table if afresh and one not in values]:
        table.remove(key)
    for key, value in values.items():
        for other in [one for one in table if one != key and _stem(one) == _stem(key)]:
            table.remove(other)
        _set(table, key, value)


def _set(table: Table, key: str, value: Any) -> None:
    """A key set; a new one stands before the remarks at the end of its table, which speak of what follows."""
    tail = _taken_tail(table)
    table[key] = value
    _give_tail(table, tail)


def _stem(key: str) -> str:
    return next((key.removesuffix(end) for end in ("_cm", "_in", "_ft", "_mm", "_m") if key.endswith(end)), key)


def _trees(document: TOMLDocument) -> AoT:
    trees = document.get("trees")
    if trees is None:
        trees = tomlkit.aot()
        document["trees"] = trees
    if not isinstance(trees, AoT):
        raise refused("the trees of this file stand in one list; only a file with [[trees]] can be changed by chat")
    return trees


def _index(trees: AoT, name: str) -> int:
    return next(i for i, tree in enumerate(trees) if tree.get("name") == name)


def _add_after(before: Sequence[Table], table: Table) -> None:
    """Leave a line between two tables, and remarks that stand after the last one (of what follows) behind the new."""
    tail = _taken_tail(before[-1]) if before else []
    if before:
        _give_tail(before[-1], [Whitespace("\n")])
    _give_tail(table, tail)


def _taken_tail(table: Table) -> list[Any]:
    """Blank lines and remarks at the end of a table, from the first blank line on; taken out of it."""
    body = table.value.body
    start = len(body)
    while start > 0 and isinstance(body[start - 1][1], Comment | Whitespace):
        start -= 1
    while start < len(body) and not isinstance(body[start][1], Whitespace):
        start += 1  # a remark right below the last key belongs to the table
    tail = [item for _, item in body[start:]]
    del body[start:]
    return tail


def _give_tail(table: Table, tail: Sequence[Any]) -> None:
    table.value.body.extend((None, item) for item in tail)


def setting_tending(trees: Sequence[str], tending: str) -> Edit:
    """Whose way some trees are tended; of none named the whole garden's, and no tree keeps one of its own."""

    def edit(document: TOMLDocument) -> None:
        tables = _trees(document)
        if trees:
            for name in trees:
                _set(tables[_index(tables, name)], "tending", tending)
            return
        for tree in tables:
            tree.pop("tending", None)
        document["tending"] = tending

    return edit


def setting_free_hours(hours: Mapping[str, str]) -> Edit:
    """When somebody can work, by weekday; how many help stays as it was."""

    def edit(document: TOMLDocument) -> None:
        before = document.pop("free", None)
        table = tomlkit.table()
        for day, span in hours.items():
            table.add(day, span)
        if before is not None and "hands" in before:
            table.add("hands", before["hands"])
        document["free"] = table

    return edit

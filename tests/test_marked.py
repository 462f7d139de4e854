"""Loading YAML: text stays text, places are right, and nothing hostile or broken gets through."""

import os
import time
import tracemalloc
from pathlib import Path

import pytest

from placer.errors import Exit, PlacerError
from placer.marked import load_marked, read_text

HERE = Path("hive.yaml")


def refused(text: str):
    with pytest.raises(PlacerError) as caught:
        load_marked(HERE, text=text)
    assert caught.value.exit_code == Exit.BAD_INPUT
    return caught.value.diagnostics[0]


def refused_file(path: Path):
    with pytest.raises(PlacerError) as caught:
        load_marked(path)
    return caught.value.diagnostics[0]


def test_values_that_older_yaml_would_change_stay_text():
    data = load_marked(HERE, text="on: 1e3\n1: 4k7\nv: 012\nw: yes\nx: 1_000\ny: 12:30:00\nz: 0x1f").data
    assert data == {"on": "1e3", "1": "4k7", "v": "012", "w": "yes", "x": "1_000", "y": "12:30:00", "z": "0x1f"}


def test_typed_follows_the_core_schema_of_yaml_1_2():
    # The examples are those of YAML 1.2.2, section 10.3.2 (Tag Resolution), https://yaml.org/spec/1.2.2/#1032-tag-resolution
    text = (
        "A null: null\nBooleans: [true, True, false, FALSE]\nIntegers: [0, 0o7, 0x3A, -19]\n"
        "Floats: [0., -0.0, .5, +12e03, -2E+05]\nAlso floats: [.inf, -.Inf, +.INF]\n"
        "Texts: [yes, on, 1e, 0b1, '1', \"~\"]\n"
    )
    typed = load_marked(HERE, text=text).typed
    assert typed == {
        "A null": None,
        "Booleans": [True, True, False, False],
        "Integers": [0, 7, 58, -19],
        "Floats": [0.0, -0.0, 0.5, 12000.0, -200000.0],
        "Also floats": [float("inf"), float("-inf"), float("inf")],
        "Texts": ["yes", "on", "1e", "0b1", "1", "~"],
    }


def test_spans_point_at_values_keys_and_nearest_ancestors():
    document = load_marked(
        HERE, text="parts:\n  R1: {package: axial, value: '4k7'}\n  R2:\n    package: x\nnets: [a, bc]\n"
    )

    def place(*loc, key=False):
        span = document.span(loc, key=key)
        return span.line, span.column, span.length

    assert place("parts", "R1", "package") == (2, 17, 5)
    assert place("parts", "R1", "package", key=True) == (2, 8, 7)
    assert place("parts", "R1", "value") == (2, 31, 5)
    assert place("nets", 1) == (5, 11, 2)
    assert place("parts", "R2", "missing") == (3, 3, 2)  # the key of the mapping that lacks it
    assert place("nets", 1, "deeper") == (5, 11, 2)
    assert document.span(("parts", "R1")).excerpt == "  R1: {package: axial, value: '4k7'}"


def test_an_empty_file_is_nothing():
    assert load_marked(HERE, text="# only a comment\n").data is None


def test_json_is_read_and_a_byte_order_mark_is_skipped(tmp_path):
    path = tmp_path / "a.json"
    path.write_bytes(b'\xef\xbb\xbf{"a": [1, "b", null]}')
    assert load_marked(path).data == {"a": ["1", "b", None]}
    assert load_marked(path).typed == {"a": [1, "b", None]}


def test_aliases_share_their_value():
    assert load_marked(HERE, text="a: &x {b: 1}\nc: *x").data == {"a": {"b": "1"}, "c": {"b": "1"}}


@pytest.mark.parametrize(
    ("text", "code", "line", "column"),
    [
        ("a: 1\nb: {c: 1, c: 2}\n", "yaml-duplicate-key", 2, 11),
        ("a:\n\tb: 1\n", "yaml-tab", 2, 1),
        ("a: 1\n---\nb: 2\n", "yaml-second-document", 2, 1),
        ("a: [1, 2\n", "yaml-syntax", 1, 4),
        ("a: b: c\n", "yaml-syntax", 1, 5),
        ("a: 'x\n", "yaml-syntax", 1, 4),
        ("a: %x\n", "yaml-syntax", 1, 4),
        ("a: x\x07y\n", "yaml-control-character", 1, 5),
        ("a: &a [1, *a]\n", "yaml-alias-loop", 1, 11),
        ("a: *b\n", "yaml-unknown-alias", 1, 4),
        ("a: !!python/object/apply:os.system [ls]\n", "yaml-tag", 1, 4),
        ("a: !secret x\n", "yaml-tag", 1, 4),
        ("? [a]\n: b\n", "yaml-key-not-text", 1, 3),
        ("a: " + "[" * 61 + "]" * 61, "yaml-too-deep", 1, 63),
        ("[" * 100_000, "yaml-too-deep", 1, None),
        ("{a: " * 100_000, "yaml-too-deep", 1, None),
        ("? " * 100_000, "yaml-too-deep", 1, None),
    ],
)
def test_what_is_wrong_is_named_with_its_place(text, code, line, column):
    found = refused(text)
    assert found.code == code
    assert found.span.line == line
    if column is not None:
        assert found.span.column == column
        assert found.span.excerpt == text.splitlines()[line - 1]


def test_a_duplicate_key_names_both_lines():
    assert refused("R1: 1\nR2: 2\nR1: 3\n").message == "key 'R1' on line 3 stands already on line 1"


def bombs():
    ten = ",".join(["*a{0}"] * 10)
    yield "wide", "a0: &a0 [x,x]\n" + "".join(f"a{i}: &a{i} [{ten.format(i - 1)}]\n" for i in range(1, 30))
    yield "deep", "a0: &a0 [x]\n" + "".join(f"a{i}: &a{i} [*a{i - 1}]\n" for i in range(1, 200_000))
    yield "flat", "a: &a x\nb: [" + "*a," * 1_000_000 + "]"
    yield "inline", "[" + ",".join(f"&a{i} [{'*a' + str(i - 1) if i else 'x'}]" for i in range(200_000)) + "]"


@pytest.mark.parametrize(("name", "text"), list(bombs()), ids=lambda v: v if len(v) < 9 else "")
def test_an_alias_bomb_is_refused_at_once_with_little_memory(name, text):
    began = time.process_time()  # not by the clock: the machine may be busy
    found = refused(text)
    assert time.process_time() - began < 1
    assert found.code in ("yaml-too-many-values", "yaml-too-deep"), name
    tracemalloc.start()
    refused(text)
    memory = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert memory < 120_000_000


def test_a_missing_file_names_the_nearest(tmp_path):
    (tmp_path / "hive-lantern.yaml").write_text("a: 1")
    found = refused_file(tmp_path / "hive-lantrn.yaml")
    assert found.code == "file-missing"
    assert "hive-lantern.yaml" in found.help
    assert refused_file(tmp_path / "nowhere" / "a.yaml").help.startswith("the folder")


def test_a_folder_is_no_file(tmp_path):
    assert refused_file(tmp_path).code == "file-is-folder"


def test_a_file_that_is_not_utf8_is_named_with_the_byte(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_bytes("a: 1\nb: sch\u00f6n".encode("latin-1"))
    found = refused_file(path)
    assert found.code == "file-not-utf8"
    assert "0xf6 at offset 11" in found.message
    assert (found.span.line, found.span.column) == (2, 7)


def test_a_file_that_is_too_large_is_not_read(tmp_path):
    path = tmp_path / "a.yaml"
    with path.open("wb") as stream:
        stream.truncate(9 * 1024 * 1024)
    assert refused_file(path).code == "file-too-large"
    assert refused("x" * (9 * 1024 * 1024)).code == "file-too-large"


def test_a_path_that_no_file_system_takes_is_bad_input():
    assert refused_file(Path("a\0b")).code == "file-unreadable"
    assert refused_file(Path("x" * 5000)).code == "file-unreadable"


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads everything")
def test_a_file_without_permission_is_bad_input(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("a: 1")
    path.chmod(0)
    assert refused_file(path).code == "file-unreadable"


def test_read_text_names_what_it_was_to_be(tmp_path):
    with pytest.raises(PlacerError, match=r"^board .* does not exist$"):
        read_text(tmp_path / "x", what="board")

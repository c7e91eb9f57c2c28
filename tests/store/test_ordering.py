"""Objects are written after what they name, whatever order they came in."""

from __future__ import annotations

from dulwich.objects import Blob, Commit, Tag, Tree
from hypothesis import given
from hypothesis import strategies as st

from buildlog.store.git.ordering import named_first, names


def commit(tree, *parents):
    made = Commit()
    made.tree = tree.id
    made.parents = [parent.id for parent in parents]
    made.author = made.committer = b"A <a@a.invalid>"
    made.author_time = made.commit_time = made.author_timezone = made.commit_timezone = 0
    made.message = b"x"
    return made


def history():
    """A diamond whose lines share files, with a tag: what a plain reversal gets wrong."""
    shared, own = Blob.from_string(b"shared"), Blob.from_string(b"own")
    inner, first, second = Tree(), Tree(), Tree()
    inner.add(b"s", 0o100644, shared.id)
    first.add(b"dyno", 0o040000, inner.id)
    second.add(b"dyno", 0o040000, inner.id)
    second.add(b"own", 0o100644, own.id)
    base = commit(first)
    left, right = commit(second, base), commit(first, base)
    joined = commit(second, left, right)
    tag = Tag()
    tag.name, tag.object, tag.message = b"handover/1", (Commit, joined.id), b"x"
    tag.tagger, tag.tag_time, tag.tag_timezone = b"A <a@a.invalid>", 0, 0
    return [tag, joined, left, right, base, first, second, inner, shared, own]


@given(st.permutations(history()))
def test_each_object_comes_after_what_it_names(items):
    seen = set()
    for item in named_first(items):
        assert item.id not in seen
        assert seen.issuperset(names(item))
        seen.add(item.id)
    assert seen == {item.id for item in items}


def test_a_long_history_needs_no_deep_stack():
    tree = Tree()
    line = [commit(tree)]
    for _ in range(5_000):
        line.append(commit(tree, line[-1]))
    assert [item.id for item in named_first(reversed(line))] == [item.id for item in line]

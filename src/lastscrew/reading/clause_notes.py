"""What is said without a verb of work: notes ("4 screws out"), "there are four screws", "which are then removed"."""

from __future__ import annotations

from lastscrew.reading.clause_subjects import SubjectClauses
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.note_form import NOTE_WORDS, note_verb
from lastscrew.reading.predicates import Found

_MARKS = word_group("clauses_marks")


class NoteClauses(SubjectClauses):
    """Clauses in note form, and statements in passing."""

    def verbless(self, i: int) -> int:
        """Verbless = phrase ("off" | "out" | "in" | "on" | "up" | "down" …) at the end: a list item in note form."""
        if not self.item or self.spoken or not self.phrases.starts_phrase(i):
            return i
        things, j = self.phrases.list_of(i)
        word = self.low(j)
        if not things or word not in NOTE_WORDS or things[-1].is_pronoun:
            return i
        after = self.low(j + 1)
        if after and after not in _MARKS and after not in ("and", "with", "by", "from"):
            return i
        key = note_verb(things[-1].category, word)
        if not key:
            return i
        found = Found(key, key, i, things=things, end=j + 1)
        end = self.predicates.after_note(j + 1, found)
        self._keep(found)
        return max(end, j + 1)

    def which_is_done(self, i: int) -> int:
        """Which = "which" be past: "held by six screws, which are then removed" tells of the work in passing."""
        if self.low(i) not in ("which", "these", "they") or self.low(i + 1) not in ("is", "are"):
            return i
        name = "it" if self.low(i + 1) == "is" else "them"
        thing = Thing(name, name, "pronoun", plural=name == "them")
        _, founds, end = self.predicates.passive_of(Found("", "", i, things=[thing]), i + 1)
        for found in founds:
            self._keep(found)
        return end if founds else i

    def there_is(self, i: int) -> int:
        """There = ("there is" | "there are" | "we've got" | "it has") phrases [holding …]."""
        low = self.low(i)
        if low in ("there", "here") and self.low(i + 1) in (
            "is",
            "are",
            "will",
            "should",
            "were",
            "was",
            "may",
        ):
            j = i + 1
            while (
                self.low(j) in self.lexicon.words["be"]
                or self.low(j) in self.lexicon.words["modals"]
                or self.low(j) in self.lexicon.words["adverbs"]
            ):
                j += 1
            stated, end = self.predicates.stated_things(j)
            if stated is not None:
                self.parsed.stated.append(stated)
                self.parsed.reasons.append("description")
                return end
        return i

"""Requirement forms in Murphi: observers that read settled instants and count time between them.

From the contract's table of forms and Meaning 2, 7, 14 and 16. Each observer gives the lines for a
settled instant and those for a tick; ``violate();`` says that the form fails in this run.
"""

from __future__ import annotations

from tests.outside.murphi_model import Model, Move, all_of
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Condition,
    Implies,
    LeadsTo,
    MeasureLongest,
    Never,
    Night,
    NoLonger,
    NoShorter,
    Not,
    Possible,
    WhenFor,
    WhenWithin,
)


class Observer:
    """The observer of one requirement."""

    def __init__(self, model: Model) -> None:
        assert model.requirement is not None
        self.model = model
        self.requirement = model.requirement
        self.gap = model.ticks(self.requirement.allowing_s)
        self.settle: list[str] = []
        self.tick: list[str] = []
        self.names: list[tuple[str, str]] = []
        self.played = "false"
        self.most_events = 1

    def own(self, name: str, kind: str, first: str) -> None:
        """A variable of the observer."""
        self.model.variable(name, kind, first)
        self.names.append((name, first))

    def say(self, condition: Condition, scope: Condition | None) -> None:
        """The functions C() and S()."""
        self.model.function("C()", self.model.condition(condition))
        held = "true" if scope is None else self.model.condition(scope)
        self.model.function("S()", held)

    def write(self) -> None:
        """Lays the observer of the requirement's form."""
        form, scope = self.requirement.form, self.requirement.scope
        if not isinstance(form, AtMostTimes):
            condition: Condition = form.condition
            self.say(Not(condition) if isinstance(form, Never) else condition, scope)
        else:
            self.say(Night(), scope)  # C is not asked
        match form:
            case Always() | Never():
                self.always(form)
            case WhenWithin():
                self.within(self.model.ticks(form.within_s))
            case WhenFor():
                self.lasts(self.model.ticks(form.for_s))
            case AfterLast():
                self.after_last(self.model.ticks(form.within_s))
            case Before():
                self.before(self.model.ticks(form.for_s))
            case NoLonger():
                self.no_longer(self.model.ticks(form.most_s))
            case NoShorter():
                self.no_shorter(self.model.ticks(form.least_s))
            case AtMostTimes():
                self.at_most(form.times, self.model.ticks(form.in_s))
            case Possible():
                self.settle = ["if S() & C() then violate(); end;"]
            case MeasureLongest():
                self.after_last(self.model.ticks(self.model.measure_s), wanted="C()")
                reached = f"st & w = {self.model.ticks(self.model.measure_s)} & C()"
                self.model.properties.append(f'cover "reached" phase = 0 & {reached};')
            case LeadsTo():
                self.leads_to()
        if self.model.claim_events:
            self.settle.insert(0, 'if ec > 0 & S() then put "PLAYED;"; end;')
        if self.played != "false":
            self.model.properties.append(f'cover "played" phase = 0 & {self.played};')

    # ------------------------------------------------------------ forms

    def always(self, form: Always | Never) -> None:
        """Every settled instant; gaps up to the allowance are filled, whole length counted."""
        if isinstance(form, Always) and isinstance(form.condition, Implies):
            self.played = f"S() & {self.model.condition(form.condition.left)}"
        else:
            self.played = "S()"
        if not self.gap:
            self.settle = ["if S() & !C() then violate(); end;"]
            return
        self.gaps("S()")

    def gaps(self, judged: str) -> None:
        """A gap of C fails if it is longer than allowed and was judged at one of its instants."""
        self.own("gx", f"0..{self.gap + 1}", "0")
        self.own("hit", "boolean", "false")
        fails = f"if hit & gx = {self.gap + 1} then violate(); end;"
        self.settle += [
            "if C() then gx := 0; hit := false;",
            f"elsif {judged} then hit := true; {fails} end;",
        ]
        self.tick += [
            f"if !C() then if gx <= {self.gap} then gx := gx + 1; end;",
            f"if {judged} then hit := true; end; {fails} end;",
        ]

    def within(self, most: int) -> None:
        """C comes in time after each E: the oldest that is still open decides."""
        self.own("open", "boolean", "false")
        self.own("y", f"0..{most}", "0")
        self.settle = [
            "if !S() then open := false; y := 0; else",
            "if ec > 0 & !open then open := true; y := 0; end;",
            "if C() then open := false; y := 0; end; end;",
        ]
        self.tick = [f"if open then if y = {most} then violate(); else y := y + 1; end; end;"]

    def lasts(self, least: int) -> None:
        """C holds from each E on, up to, not including, the end."""
        self.own("act", "boolean", "false")
        self.own("z", f"0..{least}", "0")
        self.settle = [
            "if !S() then act := false; z := 0;",
            "elsif ec > 0 then act := true; z := 0; end;",
        ]
        self.tick = [f"if act then z := z + 1; if z = {least} then act := false; z := 0; end; end;"]
        if self.gap:
            self.gaps("act")
        else:
            self.settle.append("if act & !C() then violate(); end;")

    def after_last(self, most: int, wanted: str = "!C()") -> None:
        """What is so (``wanted``) at more than ``most`` after the last E fails."""
        self.own("st", "boolean", "false")
        self.own("w", f"0..{most + 1}", "0")
        fails = f"if st & w = {most + 1} & {wanted} then violate(); end;"
        self.settle = [
            "if !S() then st := false; w := 0;",
            "elsif ec > 0 then st := true; w := 0; end;",
            fails,
        ]
        self.tick = [f"if st & w <= {most} then w := w + 1; end;", fails]
        if isinstance(self.requirement.form, MeasureLongest):
            self.played = "st & C()"

    def before(self, least: int) -> None:
        """Just before each E, C has been true for so long; judged if the scope has lasted so long."""
        self.own("cc", "boolean", "false")
        self.own("cv", f"0..{least}", "0")
        self.own("ss", "boolean", "false")
        self.own("sv", f"0..{least}", "0")
        lasted = "true" if self.requirement.scope is None else f"(ss & sv = {least})"
        self.settle = [
            f"if ec > 0 & S() & {lasted} & !(cc & cv = {least}) then violate(); end;",
            "if !C() | !cc then cv := 0; end; cc := C();",
            "if !S() | !ss then sv := 0; end; ss := S();",
        ]
        self.tick = [
            f"if cc & cv < {least} then cv := cv + 1; end;",
            f"if ss & sv < {least} then sv := sv + 1; end;",
        ]

    def stretch(self, longest: int) -> None:
        """Where a stretch of C is: 0 none, 1 in C, 2 in a gap that may yet be filled."""
        self.own("fs", "0..2", "0")
        self.own("g", f"0..{self.gap}", "0")
        self.own("x", f"0..{longest}", "0")
        self.own("scs", "boolean", "false")
        self.own("due", "boolean", "false")
        self.played = "S() & C()"

    def no_longer(self, most: int) -> None:
        """No stretch (of filled C, in the scope) is longer: what a gap hides counts once it is filled."""
        self.stretch(most + 1)
        begun = "if !S() | !scs then x := 0; end;"
        over = f"S() & x = {most + 1}"
        self.settle = [
            "if C() then",
            "if fs = 0 then x := 0; elsif fs = 2 then if due then violate(); end; end;",
            f"fs := 1; g := 0; due := false; {begun}",
            f"if {over} then violate(); end;",
            "else",
            *(
                [f"if fs = 1 then fs := 2; g := 0; end; if fs = 2 then {begun}",
                 f"if {over} then due := true; end; end;"]
                if self.gap
                else ["fs := 0; x := 0;"]
            ),
            "end; scs := S();",
        ]  # fmt: skip
        self.tick = [
            f"if fs != 0 & S() & x <= {most} then x := x + 1; end;",
            f"if fs = 1 & {over} then violate(); end;",
            f"if fs = 2 then if g = {self.gap} then fs := 0; x := 0; g := 0; due := false;",
            f"else g := g + 1; if {over} then due := true; end; end; end;",
        ]

    def no_shorter(self, least: int) -> None:
        """No stretch is shorter, but for the first one and those that the scope cuts at either end."""
        self.stretch(least)
        self.own("cut", "boolean", "false")  # the stretch is not judged
        outside = "if !S() | !scs then x := 0; cut := true; end;"
        short = f"scs & S() & !cut & x < {least}"
        if self.gap:
            ended = [
                f"if fs = 1 then due := {short}; fs := 2; g := 0; end;",
                f"if fs = 2 then {outside} end;",
            ]
        else:
            ended = [f"if fs = 1 & {short} then violate(); end; fs := 0; x := 0; cut := false;"]
        self.settle = [
            "if C() then",
            "if fs = 0 then x := 0; cut := at_start | !S();",
            f"else {outside} end;",
            "fs := 1; g := 0; due := false;",
            "else",
            *ended,
            "end; scs := S();",
        ]
        self.tick = [
            f"if fs != 0 & S() & x < {least} then x := x + 1; end;",
            f"if fs = 2 then if g = {self.gap} then if due then violate(); end;",
            "fs := 0; x := 0; g := 0; due := false; cut := false;",
            "else g := g + 1; end; end;",
        ]

    def at_most(self, times: int, within: int) -> None:
        """The ages of the last occurrences; one more within the time fails."""
        self.most_events = times + 1
        old = within + 1
        for k in range(times):
            self.own(f"age{k}", f"0..{old}", str(old))
            self.tick.append(f"if age{k} < {old} then age{k} := age{k} + 1; end;")
        forget = " ".join(f"age{k} := {old};" for k in range(times))
        shift = [f"age{k} := age{k - 1};" for k in range(times - 1, 0, -1)]
        self.settle = [
            f"if !S() then {forget} else",
            f"for k: 1..{times + 1} do if k <= ec then",
            f"if age{times - 1} < {old} then violate(); end;",
            *shift,
            "age0 := 0; end; end; end;",
        ]

    # ------------------------------------------------------------ leads to

    def leads_to(self) -> None:
        """From a state that may last on nothing outside changes; no cycle then has C false in it.

        A state with C false is noted down and met again after time has passed.
        """
        model = self.model
        still = all_of(["phase = 0", "armed", "!quiet", *model.may_last, *self.alive])
        action = ['put "PLAYED;"; quiet := true; armed := false; ec := 0;', *model.quiet]
        model.moves.append(Move("nothing outside changes any more", still, action))
        if model.measure_s is not None:
            self.leads_within(model.ticks(model.measure_s))
            return
        kept = [v for v in model.variables if goes_on(v.name, model)]
        for variable in kept:
            model.variable(f"was_{variable.name}", variable.kind, variable.first, variable.length)
        model.variable("noted", "boolean", "false")
        model.variable("moved", "boolean", "false")
        alike = all_of(f"was_{v.name} = {v.name}" for v in kept if not v.length)
        arrays = [
            f"was_{v.name}[{k}] = {v.name}[{k}]" for v in kept for k in range(max(v.length, 0))
        ]
        model.function("again()", all_of([alike, *arrays]))
        self.settle = ["if noted & moved then if again() then violate(); end; end;"]
        self.tick = ["if noted then moved := true; if again() then violate(); end; end;"]
        note = ["noted := true; moved := false;"]
        for variable in kept:
            if variable.length:
                for k in range(variable.length):
                    note.append(f"was_{variable.name}[{k}] := {variable.name}[{k}];")
            else:
                note.append(f"was_{variable.name} := {variable.name};")
        guard = all_of(["phase = 0", "quiet", "!noted", "!C()", *self.alive])
        model.moves.append(Move("note the state", guard, note))

    def leads_within(self, most: int) -> None:
        """How long C can take to come and stay, counted from when nothing outside changes."""
        self.own("q", f"0..{most + 1}", "0")
        fails = f"if quiet & q = {most + 1} & !C() then violate(); end;"
        self.settle = [fails]
        self.tick = [f"if quiet & q <= {most} then q := q + 1; end;", fails]
        self.model.properties.append(f'cover "reached" phase = 0 & quiet & q = {most} & !C();')

    @property
    def alive(self) -> list[str]:
        """What holds while the observer is at work."""
        return ["!dead"] if self.model.mode in ("count", "all") else []


def goes_on(name: str, model: Model) -> bool:
    """Whether a variable can change while nothing outside does: rules, outputs, flags, timers."""
    if name.startswith("v_"):
        inputs = {model.current(p.name) for p in model.job.points if p.kind.is_input}
        rooms = {model.current(room.name) for room in model.job.rooms}
        return name not in inputs | rooms
    if name[0] == "t" and name[1].isdigit():
        return True
    return name.startswith(("nr_", "place_", "clk_", "to_", "nw_", "wq_"))

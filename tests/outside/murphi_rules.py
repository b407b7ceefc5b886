"""Rules in Murphi: triggers that wait to be handled, runs in their places, bodies as small programs.

From the contract's section on rules and Meaning 2 to 5.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.outside.murphi_model import Model, Move, all_of, any_of, name_of
from verifier.model.job import (
    Cancel,
    Condition,
    EndRun,
    If,
    LeadsTo,
    Put,
    Repeat,
    Rule,
    RuleEnds,
    RuleStarts,
    Statement,
    TimedOut,
    Wait,
    WaitUntil,
    atoms_and_leaves,
    read_by_rule,
    statements_of,
)

STEPS = 40
"""Triggers and runs handled in one instant before it is called endless."""

ROUND = 100
"""Statements of one body run in one go before it is called endless."""


@dataclass(slots=True)
class Line:
    """One statement of a body laid out flat; ``to`` is where a false condition or a jump goes."""

    kind: str
    statement: Statement | None = None
    condition: Condition | None = None
    to: int = -1


def flat(body: tuple[Statement, ...], lines: list[Line]) -> None:
    """Lays a body out flat."""
    for statement in body:
        match statement:
            case If(branches, otherwise):
                ends: list[Line] = []
                for branch in branches:
                    test = Line("if", condition=branch.condition)
                    lines.append(test)
                    flat(branch.body, lines)
                    ends.append(Line("jump"))
                    lines.append(ends[-1])
                    test.to = len(lines)
                flat(otherwise, lines)
                for end in ends:
                    end.to = len(lines)
            case Repeat(inner, until):
                first = len(lines)
                flat(inner, lines)
                lines.append(Line("if", condition=until, to=first))
            case Put():
                lines.append(Line("put", statement))
            case Wait():
                lines.append(Line("wait", statement))
            case WaitUntil():
                lines.append(Line("until", statement))
            case Cancel():
                lines.append(Line("cancel", statement))
            case EndRun():
                lines.append(Line("end", statement))
            case _:
                raise AssertionError(statement)


class RuleText:
    """One rule on its way into the model."""

    def __init__(self, model: Model, rule: Rule) -> None:
        self.model = model
        self.rule = rule
        self.name = name_of(rule.name)
        self.most = rule.policy.at_once
        self.queue = rule.policy.at_once + rule.policy.waiting if rule.policy.waiting else 0
        self.lines: list[Line] = []
        flat(rule.body, self.lines)
        self.lines.append(Line("end"))
        self.busy = len(self.lines) + 1
        self.longest = max((limit for limit in map(self.limit_of, self.lines)), default=0)
        conditions = read_by_rule(rule)[0]
        leaves = [leaf for c in conditions for leaf in atoms_and_leaves(c)]
        self.asks_timed_out = any(isinstance(leaf, TimedOut) for leaf in leaves)

    def limit_of(self, line: Line) -> int:
        """How long a run can rest at a line, in ticks; 0 if there is no limit."""
        match line.statement:
            case Wait(for_s):
                return self.model.ticks(for_s)
            case WaitUntil(_, most):
                return self.model.ticks(most)
            case _:
                return 0

    @property
    def masks(self) -> int:
        """The greatest sum of guards' bits."""
        return int(2 ** len(self.model.guards(self.rule.name)) - 1)

    # ------------------------------------------------------------ variables

    def lay(self) -> None:
        """The rule's variables."""
        model, name = self.model, self.name
        model.variable(f"nr_{name}", f"0..{self.most}", "0")
        model.variable(f"place_{name}", f"0..{self.busy}", "0", self.most)
        if self.longest:
            model.variable(f"clk_{name}", f"0..{self.longest}", "0", self.most)
        if self.asks_timed_out:
            model.variable(f"to_{name}", "boolean", "false", self.most)
        if self.queue:
            model.variable(f"nw_{name}", f"0..{self.queue}", "0")
            model.variable(f"wq_{name}", f"0..{self.masks}", "0", self.queue)
        model.variable(f"pend_{name}", "0..7", "0", -self.masks)
        for slot in range(self.most):
            for number, line in enumerate(self.lines):
                limit = self.limit_of(line)
                if limit:
                    here = f"place_{name}[{slot}] = {number + 1}"
                    clock = f"clk_{name}[{slot}]"
                    model.tick_guard.append(f"!({here} & {clock} = {limit})")
                    model.tick.append(f"if {here} then {clock} := {clock} + 1; end;")

    def cleared(self, slot: str) -> list[str]:
        """A slot with no run in it."""
        lines = [f"place_{self.name}[{slot}] := 0;"]
        if self.longest:
            lines.append(f"clk_{self.name}[{slot}] := 0;")
        if self.asks_timed_out:
            lines.append(f"to_{self.name}[{slot}] := false;")
        return lines

    # ------------------------------------------------------------ procedures

    def write_ends(self) -> None:
        """Taking a run away, ending it, cancelling all, forgetting all (power cut)."""
        model, name = self.model, self.name
        arrays = ["place"] + ["clk"] * bool(self.longest) + ["to"] * self.asks_timed_out
        shift = [f"{a}_{name}[k] := {a}_{name}[k + 1];" for a in arrays]
        lines = []
        if self.most > 1:
            inner = " ".join(shift)
            lines = [f"for k: 0..{self.most - 2} do if k >= s then {inner} end; end;"]
        lines += [*self.cleared(str(self.most - 1)), f"nr_{name} := nr_{name} - 1;"]
        model.procedure(f"drop_{name}(s: 0..{self.most - 1})", lines)
        lines = [f"drop_{name}(s);", *model.change(model.just(RuleEnds(self.rule.name)))]
        model.procedure(f"end_{name}(s: 0..{self.most - 1})", lines, "var m: 0..255;\n")
        empty = []
        if self.queue:
            empty.append(f"nw_{name} := 0;")
            empty.append(f"for k: 0..{self.queue - 1} do wq_{name}[k] := 0; end;")
        lines = [f"while nr_{name} > 0 do end_{name}(0); end;", *empty]
        model.procedure(f"cancel_{name}()", lines)
        lines = [f"while nr_{name} > 0 do drop_{name}(0); end;", *empty]
        model.procedure(f"forget_{name}()", lines)

    def write_body(self) -> None:
        """Runs a body from a line on to its next rest, in one go; starts a run."""
        model, name = self.model, self.name
        lines = ["pc := from; left := 0; go := true;", "while go do"]
        lines.append(f'left := left + 1; if left = {ROUND} then error "ENDLESS"; end;')
        lines.append("switch pc")
        for number, line in enumerate(self.lines):
            lines.append(f"case {number}:")
            lines += self.line_text(number, line)
        lines += ["end;", "end;"]
        last = len(self.lines) - 1
        local = f"var pc: 0..{last}; left: 0..{ROUND}; go: boolean;\n"
        model.procedure(f"exec_{name}(s: 0..{self.most - 1}; from: 0..{last})", lines, local)
        lines = [f"place_{name}[nr_{name}] := {self.busy};", f"nr_{name} := nr_{name} + 1;"]
        lines += model.change(model.just(RuleStarts(self.rule.name)))
        lines.append(f"exec_{name}(nr_{name} - 1, 0);")
        model.procedure(f"start_{name}()", lines, "var m: 0..255;\n")

    def line_text(self, number: int, line: Line) -> list[str]:
        """One line of the body."""
        name = self.name
        to_next = f"pc := {number + 1};"
        rest = f"place_{name}[s] := {number + 1}; go := false;"
        if self.longest:
            rest += f" clk_{name}[s] := 0;"
        slot = f"to_{name}[s]"
        plain = f"{slot} := false;" if self.asks_timed_out else ""
        match line.kind, line.statement:
            case "put", Put(point, value):
                index = self.model.index(self.model.job.point[point], value)
                return [f"set_{name_of(point)}({index}, false); {to_next}"]
            case "wait", _:
                return [rest]
            case "until", WaitUntil(condition):
                holds = self.condition(condition, "s")
                return [f"if {holds} then {plain} {to_next} else {rest} end;"]
            case "cancel", Cancel(rule):
                stop = "go := false;" if rule == self.rule.name else to_next
                return [f"cancel_{name_of(rule)}(); {stop}"]
            case "end", _:
                return [f"end_{name}(s); go := false;"]
            case "jump", _:
                return [f"pc := {line.to};"]
            case _:
                assert line.kind == "if"
                assert line.condition is not None
                holds = self.condition(line.condition, "s")
                return [f"if {holds} then {to_next} else pc := {line.to}; end;"]

    def condition(self, condition: Condition, slot: str) -> str:
        """A condition that this rule reads."""
        return self.model.condition(condition, by_rule=True, slot=f"to_{self.name}[{slot}]")

    def guard(self, mask: str) -> str:
        """Whether one of the guards in a sum of bits is true, and ``provided``."""
        ways = []
        for bit, guard in enumerate(self.model.guards(self.rule.name)):
            holds = "true" if guard is None else self.model.condition(guard, by_rule=True)
            ways.append(all_of([f"((({mask}) / {2**bit}) % 2 = 1)", holds]))
        given = [any_of(ways)]
        if self.rule.provided is not None:
            given.append(self.model.condition(self.rule.provided, by_rule=True))
        return all_of(given)

    def write_handling(self) -> None:
        """What a trigger does at its turn, by the policy."""
        model, name, policy = self.model, self.name, self.rule.policy
        free = f"nr_{name} < {self.most}"
        lines = []
        form = model.requirement.form if model.requirement is not None else None
        if isinstance(form, LeadsTo) and form.rule == self.rule.name:
            lines.append("if !quiet then armed := true; end;")
        if self.queue:
            push = f"wq_{name}[nw_{name}] := m; nw_{name} := nw_{name} + 1;"
            lines.append(f"if {free} & nw_{name} = 0 then start_{name}();")
            lines.append(f"elsif nr_{name} + nw_{name} < {self.queue} then {push}")
            if policy.oldest_gives_way:
                lines.append(f"elsif nr_{name} > 0 then drop_{name}(0); {push}")
        else:
            lines.append(f"if {free} then start_{name}();")
            if policy.oldest_gives_way:
                lines.append(f"else drop_{name}(0); start_{name}();")
        lines.append("end;")
        model.function(f"may_{name}(m: 0..{self.masks})", self.guard("m"))
        model.procedure(
            f"handle_{name}(m: 0..{self.masks})", [f"if may_{name}(m) then", *lines, "end;"]
        )

    # ------------------------------------------------------------ moves

    def unsettled(self) -> str:
        """Whether the rule still has something to do in this instant."""
        name = self.name
        todo = [f"pend_{name}[{mask}] > 0" for mask in range(1, self.masks + 1)]
        todo += [item for slot in range(self.most) for item in self.resumable(str(slot)).values()]
        if self.queue:
            todo.append(f"(nw_{name} > 0 & nr_{name} < {self.most})")
        return any_of(todo)

    def resumable(self, slot: str) -> dict[int, str]:
        """By line: whether the run in a slot rests there and its ``wait until`` is true."""
        found: dict[int, str] = {}
        for number, line in enumerate(self.lines):
            if isinstance(line.statement, WaitUntil):
                here = f"(place_{self.name}[{slot}] = {number + 1})"
                found[number] = all_of([here, self.condition(line.statement.condition, slot)])
        return found

    def write_moves(self) -> None:
        """One move for each thing of this rule that can take its turn, or fall due."""
        model, name = self.model, self.name
        over = [f"m: 1..{self.masks}"]
        take = [f"pend_{name}[m] := pend_{name}[m] - 1;", f"handle_{name}(m);", "finish();"]
        model.moves.append(Move(f"{name} handles", f"phase = 1 & pend_{name}[m] > 0", take, over))
        if self.queue:
            first = [f"m := wq_{name}[0];"]
            first.append(f"for k: 0..{self.queue - 2} do wq_{name}[k] := wq_{name}[k + 1]; end;")
            first.append(f"wq_{name}[{self.queue - 1}] := 0; nw_{name} := nw_{name} - 1;")
            first.append(f"if may_{name}(m) then start_{name}(); end;")
            model.procedure(f"next_{name}()", first, f"var m: 0..{self.masks};\n")
            guard = f"phase = 1 & nw_{name} > 0 & nr_{name} < {self.most}"
            model.moves.append(Move(f"{name} next", guard, [f"next_{name}();", "finish();"]))
        slots = [f"s: 0..{self.most - 1}"]
        for number, ready in self.resumable("s").items():
            run = [f"place_{name}[s] := {self.busy};"]
            if self.longest:
                run.append(f"clk_{name}[s] := 0;")
            if self.asks_timed_out:
                run.append(f"to_{name}[s] := false;")
            run += [f"exec_{name}(s, {number + 1});", "finish();"]
            model.moves.append(
                Move(f"{name} resumes at {number}", all_of(["phase = 1", ready]), run, slots)
            )
        for number, line in enumerate(self.lines):
            limit = self.limit_of(line)
            if not limit:
                continue
            due = f"place_{name}[s] = {number + 1} & clk_{name}[s] = {limit}"
            run = [f"place_{name}[s] := {self.busy}; clk_{name}[s] := 0;"]
            if self.asks_timed_out and line.kind == "until":
                run.append(f"to_{name}[s] := true;")
            run.append(f"exec_{name}(s, {number + 1});")
            model.expiry(f"{name} waited at {number}", due, run, slots)


def may_be_endless(model: Model) -> bool:
    """Whether the rules' text leaves room for an endless chain: a wide guess, never too narrow."""
    job = model.job
    if any(isinstance(s, Repeat) for rule in job.rules for s in statements_of(rule.body)):
        return True
    after: dict[str, set[str]] = {}
    for rule in job.rules:
        does: set[str] = {rule.name}
        for statement in statements_of(rule.body):
            if isinstance(statement, Put):
                does.add(statement.point)
            elif isinstance(statement, Cancel):
                does.add(statement.rule)
        after[rule.name] = {other.name for other in job.rules if listens_to(other) & does}
    reach = {name: set(to) for name, to in after.items()}
    for _ in job.rules:
        reach = {
            name: to.union(*(reach[other] for other in to)) if to else to
            for name, to in reach.items()
        }
    return any(name in to for name, to in reach.items())


def listens_to(rule: Rule) -> set[str]:
    """Every subject that can trigger or resume a rule."""
    found: set[str] = set()
    for trigger in rule.triggers:
        event = trigger.event
        match event:
            case RuleStarts(name) | RuleEnds(name):
                found.add(name)
            case _:
                found |= subjects_of_event(event)
    for statement in statements_of(rule.body):
        if isinstance(statement, WaitUntil):
            for leaf in atoms_and_leaves(statement.condition):
                found |= subjects_of_leaf(leaf)
    if rule.policy.waiting:
        found.add(rule.name)
    return found


def subjects_of_event(event: object) -> set[str]:
    """The points that an event is of."""
    atom = getattr(event, "atom", None)
    found = {getattr(event, "subject", None), getattr(atom, "subject", None)}
    return {name for name in found if name is not None}


def subjects_of_leaf(leaf: object) -> set[str]:
    """The points and rules that a leaf of a condition reads."""
    atom = getattr(leaf, "atom", None)
    found = {getattr(leaf, field, None) for field in ("subject", "rule")}
    found.add(getattr(atom, "subject", None))
    return {name for name in found if name is not None}


def write_rules(model: Model) -> list[str]:
    """Adds all rules; returns what may still be to do in an instant."""
    texts = [RuleText(model, rule) for rule in model.job.rules]
    for text in texts:
        text.lay()
    for text in texts:
        text.write_ends()
    for text in texts:
        text.write_body()
    for text in texts:
        text.write_handling()
    return [text.unsettled() for text in texts]


def write_rule_moves(model: Model) -> None:
    """Adds the rules' moves (after ``finish`` is there)."""
    for rule in model.job.rules:
        RuleText(model, rule).write_moves()

"""Pages of what is told before a job's text is read, and about the question that is asked of it."""

from __future__ import annotations

from verifier.diagnostics.codes import Page
from verifier.diagnostics.record import Severity

PAGES: tuple[Page, ...] = (
    Page(
        code="certificates-not-written",
        title="The certificates cannot be written",
        means="The folder after `--certificates` cannot be made or written to.",
        why="A proof that was asked for and is not there must not go unnoticed: the exit code is 2.",
    ),
    Page(
        code="file-not-readable",
        title="A file of the job cannot be read",
        means="Its rights forbid it, it is a link that leads nowhere, or the disk failed.",
        why="A job without one of its files is another job: nothing is judged.",
    ),
    Page(
        code="folder-not-readable",
        title="The folder cannot be read",
        means="Its rights forbid it, or the path is no path.",
        why="Nothing is known of the job.",
    ),
    Page(
        code="no-certificate",
        title="The folder holds no certificate",
        means="`check-certificate` looks for certificate.json in the folder and below.",
        why="Where nothing was checked nothing may seem accepted: the exit code is 2.",
    ),
    Page(
        code="no-site",
        title="The job does not say where it stands",
        means="`sun` shows the year of a site, and the job has no latitude, longitude and timezone.",
        why="Without a site nights and days are of any length, and there is no year to show.",
    ),
    Page(
        code="not-a-certificate",
        title="The file is not a certificate",
        means="It is another kind of file, was damaged, or was written by another version.",
        why="Only what is read whole can be checked; the exit code is 2.",
    ),
    Page(
        code="no-files",
        title="The folder holds no job",
        means="No file in it has a name that ends in `.dusk`. Folders inside it are not entered, "
        "and names that begin with a dot are left alone.",
        why="An empty job would hold in any case; more likely it is the wrong folder.",
    ),
    Page(
        code="no-cluster",
        title="There is no cluster to send the work to",
        means="Nothing answers at the address, it has no workers, Dask distributed is not installed, "
        "or its workers have another version of the prover or its solvers.",
        why="Work that was to be done elsewhere is not done here unasked, and another version's "
        "answers are not taken; the exit code is 2. Verdicts that had come are kept.",
    ),
    Page(
        code="no-faults",
        title="There is no fault to show alone",
        severity=Severity.NOTE,
        means="`--each-fault` shows what survives which fault, and the job considers none.",
        why="Without a table it would seem that no fault does any harm.",
    ),
    Page(
        code="no-requirements",
        title="There is nothing to prove",
        means="The job declares no requirement and none was asked with `--ask`.",
        why="A result in which nothing was judged looks like one in which all holds.",
        example='contact side_door "Side door"\n',
        instead='contact side_door "Side door"\n'
        'require can_open "The door can be open"\n  possible: side_door is open\nend require\n',
    ),
    Page(
        code="no-such-folder",
        title="There is no such folder",
        means="Nothing has the name that was given.",
        why="Nothing is known of the job.",
    ),
    Page(
        code="not-a-file",
        title="A name that ends in .dusk is no file",
        means="It is a folder, a pipe or a device.",
        why="It looks like a part of the job and holds nothing that can be read.",
    ),
    Page(
        code="not-a-folder",
        title="A file where a folder is wanted",
        means="A job is all `.dusk` files of one folder; a file was given.",
        why="One file of several is another job: its verdicts would mislead.",
    ),
    Page(
        code="not-utf8",
        title="The file is not UTF-8 text",
        means="The byte at the place shown is not part of any UTF-8 character: the file was saved "
        "in another encoding, or is not text.",
        why="Guessing an encoding would change names and labels.",
    ),
    Page(
        code="too-many-files",
        title="Too many files in one folder",
        means="One folder is one job, and a job has at most 2000 files.",
        why="It is more likely a folder of many jobs, whose names would clash.",
    ),
    Page(
        code="tool-fault",
        title="The tool itself failed",
        means="Something went wrong inside Duskproof. Exit code 70; with `--debug` it shows where.",
        why="It says nothing about the job, neither good nor bad. Please report it.",
    ),
    Page(
        code="unknown-code",
        title="There is no such code",
        means="The word after `duskproof codes` is no code.",
        why="`duskproof codes` alone lists all of them.",
    ),
    Page(
        code="unknown-rule",
        title="There is no such rule",
        means="The name after `--rule` is no rule of the job. One of a typical has the name of its "
        "application before it: `floor_1.lit`.",
        why="Drawing the others instead would answer another question.",
    ),
    Page(
        code="unknown-requirement",
        title="There is no such requirement",
        means="The name after `--only` is no requirement of the job. One of a typical has the name "
        "of its application before it: `floor_1.lit`.",
        why="Judging the others instead would answer another question.",
    ),
    Page(
        code="picture-not-written",
        title="The picture cannot be written",
        means="The file after `-o` cannot be made or written to.",
        why="A picture that was asked for and is not there must not go unnoticed: the exit code is 2.",
    ),
    Page(
        code="file-changed",
        title="A file was changed meanwhile",
        means="`mend --apply` or `format` found another text in the file than the one that it had read.",
        why="What is to be written is made of the text that was read, and what somebody has just "
        "written must not be lost: nothing is changed.",
    ),
    Page(
        code="file-not-written",
        title="A file cannot be written",
        means="Its folder cannot be written to, or has no room. The file is as it was before.",
        why="A paper that was asked for and is not there must not go unnoticed: the exit code is 2.",
    ),
    Page(
        code="already-there",
        title="There is a job already",
        means="`duskproof new` was given a folder with a .dusk file in it.",
        why="A first job among the files of another would be read as one with it, and nothing that "
        "somebody wrote is to be lost: nothing is written.",
    ),
    Page(
        code="wrong-answer",
        title="An answer cannot be used",
        means="The file after `new --answers` has an answer that is not one of those that can be given.",
        why="A job made of a guess would promise something that nobody has asked for.",
    ),
    Page(
        code="no-steps",
        title="There is nothing to try on site",
        means="A test sheet was asked for of a job without a rule.",
        why="A sheet without steps would seem to say that all is well: the exit code is 2.",
    ),
    Page(
        code="no-such-proposal",
        title="There is no proposal with this number",
        means="`mend` found fewer proposals than the number after `--apply`.",
        why="Another proposal would be another change of the rules: nothing is changed.",
    ),
    Page(
        code="no-pdf",
        title="PDF cannot be made here",
        means="A paper was asked for as PDF, and WeasyPrint or a library that it loads is missing.",
        why="It is an extra of its own, since most need the page alone: print that from a browser.",
    ),
    Page(
        code="unknown-output",
        title="An output cannot be understood",
        means="`--output` takes FORMAT:PATH; the format is none that there is, or the path is missing.",
        why="An output that was asked for and is not there must not go unnoticed: nothing is judged.",
    ),
    Page(
        code="outputs-clash",
        title="Two outputs would get into each other",
        means="Two outputs of one call go to the same place, one lies below the file of the other, "
        "both would be printed, several runs would be printed, or a file of the job would be lost.",
        why="The later would be written over the earlier, and who reads it would not know.",
    ),
    Page(
        code="case-not-saved",
        title="A failing case cannot be kept",
        severity=Severity.NOTE,
        means="The run that refutes a requirement did not fail again when the interpreter played "
        "what happens in it from outside: there was too much to try.",
        why="A case that does not fail now would say nothing later. The verdict stands as it is.",
    ),
    Page(
        code="not-a-case",
        title="The file is not a failing case",
        means="It is another kind of file, was damaged, or was written by another version.",
        why="Only what is read whole can be played; the exit code is 2.",
    ),
    Page(
        code="no-cases",
        title="There is no case to play",
        means="The path after the job is no file, or a folder without a file whose name ends in "
        "`.case.json`.",
        why="Where nothing was played nothing may seem kept: the exit code is 2.",
    ),
    Page(
        code="no-nights",
        title="Energy is asked for, and nothing says when it is night",
        means="The rules read night and day. The job has no site with a sun, and its usage no night hours.",
        why="A lamp that burns by night alone uses half as much in June as in December: it has to be known.",
    ),
    Page(
        code="no-usage",
        title="Energy is asked for, and the job does not say how the house is used",
        means="There is no `usage` in it: how often a day which door is opened, who is seen where.",
        why="Rules say what each event leads to; how much light is used hangs on how many there are.",
    ),
    Page(
        code="too-much-happens",
        title="More happens in a week than can be played",
        means="Played as its usage states, the job's rules have millions of happenings in one week, or go "
        "round without an end.",
        why="No figure of energy would come of it in any time.",
    ),
)

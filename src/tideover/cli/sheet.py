"""``tideover sheet``: the answers to the questions a builder asks."""

from __future__ import annotations

from pathlib import Path

import click

from tideover.cli.common import COULD_NOT, FAILS, HOLDS, Refusal, build_file, page, write, write_json


@click.command()
@click.argument("build")
@click.argument("keys", metavar="[KEY]...", nargs=-1)
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
@click.option(
    "--seed",
    type=click.IntRange(0, 2**63 - 1),
    default=1,
    show_default=True,
    help="Seed of the random draws; the same seed gives the same sheet.",
)
@click.option(
    "--samples",
    type=click.IntRange(1, 1_000_000),
    default=2000,
    show_default=True,
    help="Builds drawn at random within their tolerances.",
)
@click.option(
    "--workers",
    type=click.IntRange(0, 1024),
    help="Processes that share long work; 0 for none.  [default: one a processor]",
)
@click.option("--cluster", metavar="ADDRESS", help="Share long work on a cluster; ADDRESS is its scheduler's.")
def sheet(
    build: str,
    keys: tuple[str, ...],
    json_: bool,
    seed: int,
    samples: int,
    workers: int | None,
    cluster: str | None,
) -> int:
    """Answer the questions about a build.

    BUILD is a folder with a build.yaml in it, or the file itself. Without a KEY every question gets one line, and
    what is tight or fails is told in full. With one or more KEYs these questions are answered in depth, with tables
    and charts. Workers change no number. Ctrl-C ends the sampling once what is under
    way is finished, and keeps it.

    Exit status: 0 nothing fails, 1 something fails, 2 could not run.
    """
    wanted = _keys(keys, build)
    return show(build_file(build), wanted, json_, seed, samples, workers, cluster)


def show(
    file: Path,
    keys: tuple[str, ...],
    json_: bool = False,
    seed: int = 1,
    samples: int = 2000,
    workers: int | None = None,
    cluster: str | None = None,
) -> int:
    """Compute a build's sheet and write it; the exit status is returned."""
    from tideover.network import load

    network = load(file)  # before anything heavier: most runs that end early end here

    from tideover.answers.cautions import for_network
    from tideover.answers.sheet import sheet as answer
    from tideover.cli.workers import Progress, at_work
    from tideover.render import data, text

    with at_work(workers, cluster) as executor, Progress() as told:
        answers = answer(network, keys=keys or None, seed=seed, samples=samples, executor=executor, told=told)
    cautions = for_network(network)
    if json_:
        write_json(data.sheet(network.title, str(file), seed, answers, cautions))
    elif keys:
        out = page()
        texts = [text.answer(out, network.title, a) for a in answers[:-1]]
        texts += [text.answer(out, network.title, a, cautions, seed) for a in answers[-1:]]
        write("\n".join(texts))
    else:
        write(text.sheet(page(), network.title, answers, cautions, seed))
    if any(a.broken for a in answers):
        return COULD_NOT
    return FAILS if text.status(answers) == "fails" else HOLDS


def _keys(keys: tuple[str, ...], build: str) -> tuple[str, ...]:
    """Keys as they are written in the table of questions; a key that is none is refused with those there are."""
    from difflib import get_close_matches

    from tideover.answers.base import QUESTIONS

    if build in QUESTIONS and not Path(build).exists():
        raise Refusal(f'"{build}" is a question, and the build is missing.', f"Write: tideover sheet . {build}")
    wanted = []
    for key in keys:
        folded = key.casefold()
        if folded not in QUESTIONS:
            near = get_close_matches(folded, QUESTIONS, 1, 0.5)
            raise Refusal(
                f'"{key}" is no question of the sheet.',
                f"There are: {', '.join(QUESTIONS)}.",
                f"Write: tideover sheet {build} {near[0]}" if near else "",
            )
        wanted.append(folded)
    return tuple(dict.fromkeys(wanted))

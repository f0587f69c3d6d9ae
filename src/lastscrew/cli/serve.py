"""``lastscrew serve``: the bench application, on this machine or for the whole depot."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from lastscrew.cli.edge import edge, json_text

if TYPE_CHECKING:
    from lastscrew.bench.config import Config
    from lastscrew.bench.serving.certificates import Certificate

DEFAULT_DATA = "lastscrew-data"
HELP = {
    "data": "Folder for everything that is kept; made if missing.",
    "host": "Address to listen on. Anything but this machine alone asks for accounts and HTTPS.",
    "port": "Port to listen on.",
    "names": "A further name by which other screens call this machine. Repeatable.",
    "cert": "Certificate (PEM, with its chain) instead of one of our own authority.",
    "key": "Private key of the certificate (PEM, without a password).",
    "proxy": "A proxy on this machine ends HTTPS and passes requests on: plain HTTP is served to it.",
    "database": "A PostgreSQL database instead of SQLite (postgresql://…; also LASTSCREW_DATABASE).",
    "demo": "Fill an empty installation with an invented depot first.",
    "json": "Print one JSON object when it is ready.",
}


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--data", metavar="DIR", default=None, help=HELP["data"] + f" [default: {DEFAULT_DATA}]"
)
@click.option("--host", default="127.0.0.1", show_default=True, help=HELP["host"])
@click.option(
    "--port", type=click.IntRange(1, 65535), default=8467, show_default=True, help=HELP["port"]
)
@click.option("--name", "names", multiple=True, metavar="NAME", help=HELP["names"])
@click.option("--cert", metavar="FILE", help=HELP["cert"])
@click.option("--key", metavar="FILE", help=HELP["key"])
@click.option("--behind-proxy", is_flag=True, help=HELP["proxy"])
@click.option("--database", metavar="URL", default=None, help=HELP["database"])
@click.option("--demo", is_flag=True, help=HELP["demo"])
@click.option("--json", "as_json", is_flag=True, help=HELP["json"])
def command(
    *,
    data: str | None,
    host: str,
    port: int,
    names: tuple[str, ...],
    cert: str | None,
    key: str | None,
    behind_proxy: bool,
    database: str | None,
    demo: bool,
    as_json: bool,
) -> None:
    """Serve the bench application until stopped (Ctrl-C).

    On this machine alone no login is asked. On another address accounts are required and the
    connection is encrypted.
    """
    with edge(as_json=as_json):
        from lastscrew.bench.config import DATA, DATABASE, config_from, environment_of

        given = {
            DATA: data or os.environ.get(DATA) or DEFAULT_DATA,
            DATABASE: database or os.environ.get(DATABASE, ""),
        }
        config = replace(config_from(given), host=host, port=port, behind_proxy=behind_proxy)
        _refuse_what_contradicts(cert, key, behind_proxy=behind_proxy)
        config, certificate = _secured(config, names, cert, key)
        os.environ.update(environment_of(config))
        os.environ["DJANGO_SETTINGS_MODULE"] = "lastscrew.bench.settings"
        _serve(config, certificate, demo=demo, as_json=as_json)


def _refuse_what_contradicts(cert: str | None, key: str | None, *, behind_proxy: bool) -> None:
    from lastscrew.problems import InputError, Problem

    problems = []
    if (cert is None) != (key is None):
        problems.append(
            Problem("--cert and --key go together", "Give both, or neither.", path="--cert")
        )
    if behind_proxy and cert is not None:
        problems.append(
            Problem(
                "behind a proxy there is no certificate of ours",
                "Give the certificate to the proxy, or leave --behind-proxy out.",
                path="--behind-proxy",
            )
        )
    if problems:
        raise InputError(problems)


def _secured(
    config: Config, names: tuple[str, ...], cert: str | None, key: str | None
) -> tuple[Config, Certificate | None]:
    """The configuration with its names, and the certificate where HTTPS is served by us."""
    import datetime as dt

    from lastscrew.bench.serving.addresses import own_names
    from lastscrew.bench.serving.certificates import brought_certificate, own_certificate
    from lastscrew.bench.serving.trust import authority_folder

    config = replace(config, names=own_names(config.host, names))
    if config.behind_proxy:
        return replace(config, secure=True), None
    if cert is not None and key is not None:
        return replace(config, secure=True), brought_certificate(Path(cert), Path(key))
    if config.is_local:
        return config, None
    config.data.mkdir(parents=True, exist_ok=True, mode=0o700)
    needed = (*names, config.host)
    certificate = own_certificate(
        authority_folder(config), config.names, needed, dt.datetime.now(dt.UTC)
    )
    return replace(config, secure=True), certificate


def _serve(config: Config, certificate: Certificate | None, *, demo: bool, as_json: bool) -> None:
    from lastscrew.bench.serving.server import ListeningError, serve
    from lastscrew.bench.store.starting import erasing_daily, prepare, reading_ahead
    from lastscrew.problems import InputError, Problem

    with prepare(config) as done:
        if demo:
            from lastscrew.bench.invented.filling import fill

            fill()
        from lastscrew.bench.wsgi import make_application

        application = make_application()

        def ready() -> None:
            said = _words(config, certificate)
            if as_json:
                click.echo(json_text({**said, "prepared": list(done)}))
            else:
                for line in done:
                    click.echo(line)
                _say(said)
            sys.stdout.flush()

        try:
            reading_ahead()
            with erasing_daily():
                serve(config, application, certificate, ready)
        except ListeningError as error:
            raise InputError(
                [
                    Problem(
                        f"can't listen on {config.host} port {config.port}: {error}",
                        "Choose another --port or --host, or stop what listens there.",
                        path="--port",
                    )
                ]
            ) from error


def _words(config: Config, certificate: Certificate | None) -> dict[str, object]:
    """What a person (or a program) needs to know once it listens."""
    from lastscrew.bench.access.signing_in import first_code, needs_first_account
    from lastscrew.bench.serving.trust import address_of

    said: dict[str, object] = {
        "address": address_of(config),
        "data": str(config.data),
        "database": "PostgreSQL" if config.database else "SQLite",
    }
    if certificate is not None:
        said["fingerprint"] = certificate.fingerprint
        if certificate.authority is not None:
            said["trust"] = address_of(config) + "trust/"
    if warning := _warning(config):
        said["warnings"] = [warning]
    if not config.is_local and needs_first_account():
        said["first_account_code"] = first_code(config)
    return said


def _warning(config: Config) -> str:
    """What is open that should not be; empty for nothing."""
    from lastscrew.bench.config import is_loopback

    if not config.behind_proxy or is_loopback(config.host):
        return ""
    return (
        f"Plain HTTP on {config.host} port {config.port}: whoever reaches it past the proxy reads passwords on the "
        "way and can speak as the proxy. Listen on 127.0.0.1 (the default), or have a firewall let the proxy alone "
        "through."
    )


def _say(said: dict[str, object]) -> None:
    for warning in cast("list[str]", said.get("warnings", [])):
        click.echo(f"WARNING: {warning}", err=True)
    click.echo(f"The bench is open at   {said['address']}")
    click.echo(f"Its data               {said['data']} ({said['database']})")
    if "trust" in said:
        click.echo(f"To trust it on a tablet {said['trust']}")
        _draw_code(str(said["trust"]))
    if "fingerprint" in said:
        click.echo("Fingerprint (SHA-256)")
        pairs = str(said["fingerprint"]).split(":")
        for at in range(0, len(pairs), 16):
            click.echo("  " + ":".join(pairs[at : at + 16]))
    if "first_account_code" in said:
        click.echo(f"Code for the first account: {said['first_account_code']}")
    click.echo("Ctrl-C stops it.")


def _draw_code(address: str) -> None:
    """The address as QR, where a person watches a terminal that can show it."""
    if not sys.stdout.isatty():
        return
    import segno

    segno.make(address, error="l", micro=False).terminal(compact=True)

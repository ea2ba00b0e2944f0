"""Address: of a database that several people share, named without its password."""

from urllib.parse import parse_qs, urlsplit

from holdzero.errors import InputError

SCHEMES = ("postgresql", "postgres")
WHERE_PASSWORDS_LIE = (
    "leave it out: it is taken from PGPASSFILE or ~/.pgpass (host:port:database:user:password), or from PGPASSWORD"
)


def is_database(name: str) -> bool:
    """Whether a name is the address of a database, not that of a file.

    >>> is_database("postgresql://shed.local/club"), is_database("shed.holdzero")
    (True, False)
    """
    return name.partition("://")[0].casefold() in SCHEMES and "://" in name


def database_address(name: str, *, where: str) -> str:
    """Return an address as it may be kept and shown.

    Parameters
    ----------
    name : str
        ``postgresql://user@host:port/database``.
    where : str
        What it was given as, for messages.

    Raises
    ------
    InputError
        A password in it, which is never repeated; or no database named.

    Examples
    --------
    >>> database_address("postgres://ann@shed.local/club", where="BOOK")
    'postgresql://ann@shed.local/club'
    """
    try:
        parts = urlsplit(name)
        words = parse_qs(parts.query, keep_blank_values=True)
        secret = parts.password is not None or any(
            "pass" in word.casefold() and word != "passfile" for word in words
        )
        port = parts.port
    except ValueError:
        parts, secret, port = None, "@" in name and ":" in name.partition("://")[2].partition("@")[0], None
    if secret:
        raise InputError(
            where=where,
            found="a password in the address of a database",
            need="the address without it: others see what is typed, and shells keep it",
            do=WHERE_PASSWORDS_LIE,
        )
    if parts is None or not parts.path.strip("/") or port == 0:
        raise InputError(
            where=where,
            found="an address that names no database",
            need="postgresql://user@host:port/database",
            do="put its name behind the host",
        )
    return f"postgresql://{name.partition('://')[2]}"

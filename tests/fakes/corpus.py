"""What was found: inputs that once stopped, fooled or cost, by the kind of file; where fuzzing begins."""

SETTINGS = (
    b"a = " + b"[" * 5000 + b"]" * 5000,
    b"a = " + b"{b=" * 2000 + b"1" + b"}" * 2000,
    b"a = " + b"9" * 5000,
    b".".join([b"a"] * 5000) + b" = 1",
    b"[" + b".".join([b"a"] * 5000) + b"]",
    b'a = """\n[[[\n"""\n' * 3,
    b"columns = [\n" + b'"counts",\n' * 500 + b"]\nnone_such = 1\n",
    b"rate_hz = 1e308\nname = 1e400\n",
    b"rate_hz = inf\ncounts_per_newton = nan\n",
    b"\xff\xfe" * 20,
    b"\x00" * 40,
    b"",
)
TRACES = (
    b"0,1" + b"\t" * 900 + b"x\n1,2\n",
    b"0,1" + b"\t" * 100_000 + b"x\n",
    b"0,1\n1e-300,2\n2e-300,3\n",
    b"0,1\n1e300,2\n2e300,3\n",
    b"0,1\n0.01,1e308\n0.02,-1e308\n",
    b"0,1\n0.01,2\n1e9,3\n",
    b"time_s,force_n\n" + b"0,1\n" * 50,
    b"0;1,5\n1;2,5\n",
    b"0,1\r1,2\r\r",
    b"\xef\xbb\xbf0,1\n1,-0\n",
    b"#\n" * 50,
    b"",
)
TABLES = (b'"' * 1000, b"# source: x\n" * 200, b"a,b\n" + b",".join([b"1"] * 5000) + b"\n", b"\xff", b"")

"""The rules of the protocol, one function each: evidence in, a fault or None out."""

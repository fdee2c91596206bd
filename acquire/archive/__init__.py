"""Session files: whole, immutable, readable by HDF5 tools alone.

Import from the modules: ``session_file`` reads and writes, ``walk`` finds, ``atomic`` puts a file in place.
Nothing is imported here, so that ``atomic`` can be used by what a session itself is made of.
"""

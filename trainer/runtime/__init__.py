"""Runs plants as WebAssembly, to the same bit as plain Python: on a server by wasmtime, in the browser by itself."""

"""What the take-away edition brings along from outside, each pinned by version and content hash.

The Python runtime for the browser decides everything else: its binary interface admits one pydantic-core wheel,
and that wheel admits one pydantic. They are therefore pinned here together, and not taken from whatever happens
to be installed where the site is built: two builds of one version of the trainer carry the same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass

PYTHON = "3.14"
PLATFORM = "pyemscripten_2026_0_wasm32"
ABI = "cp314"


@dataclass(frozen=True)
class Pin:
    """One file from a package registry.

    kind: "npm" or "pypi", the client that brings it. file: its name as the client saves it.
    digest: hash name and hex digest, such as "sha256:ab12…", checked on every use.
    """

    kind: str
    name: str
    version: str
    file: str
    digest: str

    @property
    def title(self) -> str:
        """Name and version of a pinned package, as a person reads them in a message."""
        return f"{self.name} {self.version}"


RUNTIME = Pin(
    "npm",
    "pyodide",
    "314.0.7",
    "pyodide-314.0.7.tgz",
    "sha512:d18bd7c4485f11da4b7dbfd790cd8114078c44eab488c517d9bcf31fda4eb6dc"
    "8c716930abe1db139bb2b860fcd8b37bcb6abe48dbe2ffa579244b0e943d91d4",
)

WHEELS = (
    Pin(
        "pypi",
        "pydantic-core",
        "2.50.5",
        "pydantic_core-2.50.5-cp314-cp314-pyemscripten_2026_0_wasm32.whl",
        "sha256:b2910ec0fa5aeb9bef70156f2b79f4783978fdcfaa7b2f1b5d1814458d2e79a1",
    ),
    Pin(
        "pypi",
        "pydantic",
        "2.14.4",
        "pydantic-2.14.4-py3-none-any.whl",
        "sha256:653a2ad9f6d8858529c77c72717d0ea991d6c6837fe683246b2f4b2bbfc3fadc",
    ),
    Pin(
        "pypi",
        "annotated-types",
        "0.8.0",
        "annotated_types-0.8.0-py3-none-any.whl",
        "sha256:f072f4d804ea359e4eaf198b1af7a8b0943881a87f31bb764f8bf219bb9419e0",
    ),
    Pin(
        "pypi",
        "typing-extensions",
        "4.16.0",
        "typing_extensions-4.16.0-py3-none-any.whl",
        "sha256:481caa481374e813c1b176ada14e97f1f67a4539ce9cfeb3f350d78d6370c2e8",
    ),
    Pin(
        "pypi",
        "typing-inspection",
        "0.4.5",
        "typing_inspection-0.4.5-py3-none-any.whl",
        "sha256:bc210535442b39e1bf2805e0c7a17dfd6a4ace760c84c7f7d16245d23a6b1c39",
    ),
    Pin(
        "pypi",
        "fsrs",
        "6.3.2",
        "fsrs-6.3.2-py3-none-any.whl",
        "sha256:bc55066c821164b1cff6d75b17a3ed8e86cfd45789e3d775cfcb895319ce9ba4",
    ),
    Pin(
        "pypi",
        "tomlkit",
        "0.15.2",
        "tomlkit-0.15.2-py3-none-any.whl",
        "sha256:05562412163a3037b94497385fb7f9204c637bc605af7a48199e41cf2272f437",
    ),
)

EVERYTHING = (RUNTIME, *WHEELS)

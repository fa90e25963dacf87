"""What leaves as files: exports for other tools, and the key that checks what this classroom signed."""

from __future__ import annotations

from sqlalchemy.orm import Session

from trainer.classroom import files
from trainer.classroom.doors import Door
from trainer.classroom.record_pages import STAFF
from trainer.records import audit
from trainer.session import signing


class Export(Door):
    """``/export/NAME``: everything, for another tool."""

    roles = STAFF

    async def get(self, name: str) -> None:
        """The file; that it was taken is in the trail."""
        who = self.somebody

        def work(session: Session) -> tuple[str, str]:
            audit.note(session, who.name, who.role, "export", name, origin=str(self.request.remote_ip))
            return ("", "application/json") if name in made else files.export(session, name)

        made = {"trail.json": files.trail_exported, "withdrawn.json": files.withdrawn_exported}
        content, kind = await self.ask(work)
        if name in made:
            content = await self.desk.worker.do(made[name], self.desk.records_url, self.desk.folder)
        self.set_header("Content-Type", kind)
        self.set_header("Content-Disposition", f'attachment; filename="{name}"')
        self.write(content)


class PublicKey(Door):
    """``/key.pem``: the public key that checks what this classroom signed; it is no secret."""

    def get(self) -> None:
        """The file."""
        self.set_header("Content-Type", "application/x-pem-file")
        self.set_header("Content-Disposition", 'attachment; filename="classroom-key.pem"')
        self.write(signing.public_pem(self.desk.key))

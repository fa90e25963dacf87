"""The plant, one module a component: declaration, physics, faults."""

from django.apps import AppConfig


class GatesConfig(AppConfig):
    name = "pourwright.workshop.gates"
    label = "gates"

    def ready(self) -> None:
        from pourwright.workshop.gates import watch

        watch.start()

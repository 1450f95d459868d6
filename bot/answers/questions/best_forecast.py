"""The answer to "which forecast is best here"."""

from bot.answers.exchange import Answer, Exchange
from bot.replies import Meaning
from bot.rounds import gather
from bot.weather_services import SERVICES, Service
from bot.wording.learned import ServiceHere, best_forecast


def tell_best_forecast(exchange: Exchange, _: Meaning) -> list[Answer]:
    """How far each service was off at this garden, the best first, and what each counts for tonight."""
    found = gather(exchange.c, exchange.garden, exchange.now, exchange.weather_of)
    heard = [
        ServiceHere(
            title=SERVICES[Service(name)].title,
            nights=one.nights,
            miss_c=one.miss_c,
            bias_c=one.bias_c(24.0),
            sigma_c=float(one.sigma_c(24.0)),
            share=found.shares.get(name),
        )
        for name, one in found.services.by_name.items()
        if name in set(Service)
    ]
    return [Answer(text=best_forecast(heard, exchange.style, together=exchange.garden.services_together))]

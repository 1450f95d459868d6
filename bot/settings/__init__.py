"""The garden file and the environment → checked values; the only reader of `os.environ`."""

from bot.settings.doubtful import doubtful
from bot.settings.environment.environment_file import use_environment_file
from bot.settings.environment.private_files import SecretsError
from bot.settings.environment.secrets import MqttBroker, Secrets, read_secrets, wants_plain_text
from bot.settings.garden import Garden, Person, Role, SensorTopic, Units
from bot.settings.plain_words import in_plain_words
from bot.settings.problems import TOKEN_SHAPE, GardenError, Problem, first_in_words, problems_in_words, without_tokens
from bot.settings.reading import read_garden
from bot.weather_services import Service

__all__ = [
    "TOKEN_SHAPE",
    "Garden",
    "GardenError",
    "MqttBroker",
    "Person",
    "Problem",
    "Role",
    "Secrets",
    "SecretsError",
    "SensorTopic",
    "Service",
    "Units",
    "doubtful",
    "first_in_words",
    "in_plain_words",
    "problems_in_words",
    "read_garden",
    "read_secrets",
    "use_environment_file",
    "wants_plain_text",
    "without_tokens",
]

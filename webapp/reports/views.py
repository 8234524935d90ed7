from __future__ import annotations

from flask import Blueprint

blueprint = Blueprint("reports", __name__, template_folder="templates")

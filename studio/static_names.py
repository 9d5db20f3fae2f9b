"""Static files by names that carry their contents, also where one script imports another."""
from django.contrib.staticfiles.storage import ManifestStaticFilesStorage
from whitenoise.storage import CompressedManifestStaticFilesStorage


class StaticNames(CompressedManifestStaticFilesStorage, ManifestStaticFilesStorage):
    """A module's imports are written anew with the hashed names; each must be a relative path."""

    support_js_module_import_aggregation = True

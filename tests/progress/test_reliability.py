"""Published worked examples of reliability; row numbers are those of the project's table of check values."""
import json
import math

import numpy as np
import pytest
from django.conf import settings

from progress.rules import agreement

# Weir (2005), data set A: eight subjects, two trials.
WEIR = np.array([[146, 148, 170, 90, 157, 156, 176, 205], [140, 152, 152, 99, 145, 153, 167, 218]]).T
# Shrout & Fleiss (1979): six targets, four judges.
SHROUT = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])


def test_the_correlations_of_the_published_examples():
    """Weir prints 0.95 for his data set A (row 16), Shrout and Fleiss 0.29 for theirs (row 17): both ICC(2,1)."""
    assert agreement.absolute_agreement(WEIR.astype(float)) == pytest.approx(0.9500, abs=5e-5)
    assert round(agreement.absolute_agreement(SHROUT.astype(float)), 2) == 0.29


@pytest.mark.parametrize("scores", [[[1.0, 2.0]], [[1.0], [2.0]], [[1.0, np.nan], [2.0, 3.0]]])
def test_scores_with_gaps_or_too_few_are_refused(scores):
    with pytest.raises(ValueError):
        agreement.absolute_agreement(np.array(scores))


def test_the_catalogues_typical_error_of_rises_lies_among_the_published_ones():
    """Rows 20 to 22: Ross & Fontenot (2000) 2.07; Hebert-Losier (2017), from limits of agreement of -6.2 to 6.5; Mishra
    (2023), children of 8 to 12 years on different days, from a standard deviation of 4.8 and a correlation of 0.70."""
    published = [2.07, (6.5 + 6.2) / (2 * agreement.Z95) / math.sqrt(2), 4.8 * math.sqrt(1 - 0.70)]
    assert published == pytest.approx([2.07, 2.291, 2.629], abs=5e-4)
    catalogue = json.loads((settings.BASE_DIR / "fixtures" / "measures.json").read_text())["measures"]
    [rises] = [each for each in catalogue if each["key"] == "rises"]
    assert min(published) < rises["typical_error"] < max(published)

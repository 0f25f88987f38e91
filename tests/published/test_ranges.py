"""Narrow range against BT.709-6 item 4.6 and BT.2100-3 table 9: black at code 64, white at 940, of 10 bits."""

import numpy as np
import pytest

from lookwright.colour.spaces.ranges import from_full, to_full
from lookwright.colour.spaces.signal import Signal


@pytest.mark.parametrize(("code", "level"), [(64, 0.0), (940, 1.0), (502, 0.5), (4, -60 / 876), (1019, 955 / 876)])
def test_legal_codes_of_ten_bits(code: int, level: float) -> None:
    # (code - 64) / 876; 4 and 1019 are the ends of video data (the same tables).
    np.testing.assert_allclose(to_full(np.array(code / 1023), "legal"), level, rtol=0, atol=1e-14)
    np.testing.assert_allclose(from_full(np.array(level), "legal") * 1023, code, rtol=0, atol=1e-11)


def test_eight_bit_black_lies_within_a_fifth_of_a_thousandth() -> None:
    # BT.709-6: 16 and 235 at 8 bits. One LUT cannot serve both depths exactly; the docstring promises 0.0002.
    assert abs(to_full(np.array(16 / 255), "legal")) < 0.0003
    assert abs(16 / 255 - 64 / 1023) < 0.0002


def test_full_range_is_untouched() -> None:
    x = np.array([-0.1, 0.0, 0.3, 1.2])
    assert np.array_equal(to_full(x, "full"), x)
    assert np.array_equal(from_full(x, "full"), x)


def test_black_of_a_log_curve_moves_too() -> None:
    # The trap of a log signal in narrow range: 18 % grey of S-Log3 (code 420.00 full range, Technical Summary V1.00)
    # stands at (64 + 0.410557 x 876) / 1023 when the file is narrow.
    legal = Signal.named("S-Log3", range="legal")
    code = (64 + 0.410557184751 * 876) / 1023
    np.testing.assert_allclose(legal.decode(np.full(3, code)), 0.18, rtol=0, atol=1e-9)
    np.testing.assert_allclose(legal.encode(np.full(3, 0.18)), code, rtol=0, atol=1e-9)

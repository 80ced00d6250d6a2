"""Small pure arithmetic that several stages share: allowed rates and snapping, amounts, conversions."""

//! How many orders, in words.

/// "1 order", "40,320 orders".
pub fn orders_said(count: u128) -> String {
    format!("{} order{}", grouped(count), if count == 1 { "" } else { "s" })
}

/// A number with a comma at every thousand.
pub fn grouped(number: u128) -> String {
    let digits = number.to_string();
    let mut text = String::with_capacity(digits.len() * 4 / 3);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_are_set_apart() {
        assert_eq!(
            [grouped(7), grouped(999), grouped(40_320), grouped(1_000_000)],
            ["7", "999", "40,320", "1,000,000"]
        );
    }

    #[test]
    fn one_order_is_no_orders() {
        assert_eq!([0, 1, 40_320].map(orders_said), ["0 orders", "1 order", "40,320 orders"]);
    }
}

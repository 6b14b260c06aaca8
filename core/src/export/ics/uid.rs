//! Names of events that stay the same from export to export.

use crate::shop::Shop;
use std::fmt::Write as _;

/// The UID of an order's event: its number, and a figure made from the name of the shop.
///
/// Letters, digits and hyphens of the number stand as they are; any other octet is written as `.`
/// and two hexadecimal digits, so that two numbers never share a UID.
#[must_use]
pub fn uid(shop: &Shop, order: &str) -> String {
    let mut number = String::new();
    for octet in order.bytes() {
        if octet.is_ascii_alphanumeric() || octet == b'-' {
            number.push(char::from(octet));
        } else {
            // writing into a text cannot fail
            let _ = write!(number, ".{octet:02x}");
        }
    }
    format!("order-{number}-{}@drawbar-almanac", shop_figure(&shop.settings.name))
}

/// The name of the shop as 16 hexadecimal digits. Source: FNV-1a, 64 bits, of Fowler, Noll and Vo.
pub(super) fn shop_figure(name: &str) -> String {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for octet in name.bytes() {
        hash ^= u64::from(octet);
        hash = hash.wrapping_mul(0x0000_0100_0000_01b3);
    }
    format!("{hash:016x}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    /// Values of the empty text and of `a` as the published test vectors of FNV-1a have them.
    #[test]
    fn the_figure_is_that_of_the_published_hash() {
        assert_eq!(shop_figure(""), "cbf29ce484222325");
        assert_eq!(shop_figure("a"), "af63dc4c8601ec8c");
        assert_eq!(shop_figure("foobar"), "85944171f73967e8");
    }

    #[test]
    fn two_orders_never_share_a_uid() {
        let mut shop = Shop::default();
        Arc::make_mut(&mut shop.settings).name = "foobar".to_owned();
        assert_eq!(uid(&shop, "26-041"), "order-26-041-85944171f73967e8@drawbar-almanac");
        let uids = ["26/041", "26.041", "26.2f041", "26 041", "26-041"].map(|order| uid(&shop, order));
        for (nth, one) in uids.iter().enumerate() {
            assert!(!uids.iter().skip(nth + 1).any(|other| other == one), "{one}");
        }
    }
}

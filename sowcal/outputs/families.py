"""Plant families by the names that growers use: botany's name stays beside them, for it is what seed lists say."""

from __future__ import annotations

__all__ = ["PLAIN_NAMES", "family_name"]

# Usual English names of the families: common practice, no source.
PLAIN_NAMES = {
    "Actinidiaceae": "kiwi",
    "Aizoaceae": "ice plant",
    "Amaranthaceae": "goosefoot",
    "Amaryllidaceae": "onion",
    "Anacardiaceae": "cashew",
    "Apiaceae": "carrot",
    "Asparagaceae": "asparagus",
    "Asteraceae": "daisy",
    "Betulaceae": "birch",
    "Boraginaceae": "borage",
    "Brassicaceae": "cabbage",
    "Cactaceae": "cactus",
    "Capparaceae": "caper",
    "Caprifoliaceae": "honeysuckle",
    "Convolvulaceae": "bindweed",
    "Cucurbitaceae": "gourd",
    "Ebenaceae": "ebony",
    "Ericaceae": "heather",
    "Fabaceae": "pea",
    "Grossulariaceae": "currant",
    "Juglandaceae": "walnut",
    "Lamiaceae": "mint",
    "Lauraceae": "laurel",
    "Lythraceae": "loosestrife",
    "Malvaceae": "mallow",
    "Moraceae": "mulberry",
    "Oleaceae": "olive",
    "Poaceae": "grass",
    "Polygonaceae": "dock",
    "Portulacaceae": "purslane",
    "Rosaceae": "rose",
    "Rutaceae": "citrus",
    "Solanaceae": "nightshade",
    "Tropaeolaceae": "nasturtium",
    "Vitaceae": "vine",
}


def family_name(family: str) -> str:
    """A family as 'pea family (Fabaceae)'; one that has no plain name here as it is."""
    plain = PLAIN_NAMES.get(family)
    return f"{plain} family ({family})" if plain else family
